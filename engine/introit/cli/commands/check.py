"""`introit check`: reads content files and tells every mistake."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import click

from introit.errors import EXIT_FAILED, ContentError, Problem
from introit.library.content import content_roots
from introit.library.loader import load_file, load_library
from introit.library.model import Library


@click.command()
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path, exists=True))
@click.pass_context
def check(ctx: click.Context, paths: tuple[Path, ...]) -> int:
    """Checks files or folders of intros, rhythms, tunes, sets and rigs; without PATH the whole library.

    Every mistake is told with file, line and column; the exit code is 1 when there is one.
    """
    library, problems = load_library(content_roots())
    counted = _size(library)
    if paths:
        files = [file for path in paths for file in _files(path)]
        problems = [problem for file in files for problem in _problems(file, library)]
        counted = f"{len(files)} file{'' if len(files) == 1 else 's'}"
    for problem in problems:
        click.echo(str(problem))
    mistakes = f"{len(problems)} mistake{'' if len(problems) == 1 else 's'}" if problems else "no mistakes"
    click.echo(f"{counted}: {mistakes}")
    return EXIT_FAILED if problems else 0


def _files(path: Path) -> list[Path]:
    if path.is_dir():
        return sorted(file for file in path.rglob("*") if file.suffix in {".yaml", ".yml"})
    return [path]


def _problems(path: Path, library: Library) -> tuple[Problem, ...]:
    try:
        load_file(path, library)
    except ContentError as error:
        return error.problems
    return ()


def _size(library: Library) -> str:
    kinds: dict[str, Mapping[str, object]] = {
        "intros": library.intros,
        "comping rhythms": library.comping,
        "bass manners": library.bass,
        "feels": library.feels,
        "tunes": library.tunes,
        "sets": library.sets,
        "rigs": library.rigs,
    }
    return ", ".join(f"{len(things)} {kind}" for kind, things in kinds.items())
