"""`introit check`: reads content files and tells every mistake; with `--music`, reviews the music in them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from introit.cli.seeds import seed_option
from introit.errors import EXIT_FAILED, ContentError, Problem, UsageError
from introit.library.content import content_roots
from introit.library.loader import load_file, load_library
from introit.library.measures import FILE as MEASURES_FILE
from introit.library.measures import load_measures, read_measures
from introit.library.model import Library

_ALL_KEYS = 12


class _Keys(click.ParamType[int]):
    """How many keys of each mode: 1 to 12, or `all`."""

    name = "1-12|all"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        if value == "all":
            return _ALL_KEYS
        if str(value) not in map(str, range(1, _ALL_KEYS + 1)):
            self.fail(f"{value!r} is no number of keys; allowed is 1 to {_ALL_KEYS} or all", param, ctx)
        return int(value)


@click.command()
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path, exists=True))
@click.option("--music", is_flag=True, help="Arrange every intro in every way and review what is played.")
@click.option(
    "--keys", "keys_each", type=_Keys(), help="Keys of each mode to review: 1 to 12, or all (usual)."
)
@seed_option("Of every playing; when left out, another one from score to score.")
@click.option("--jobs", type=click.IntRange(min=1), help="Processes at once; as many as cores when left out.")
@click.pass_context
def check(
    ctx: click.Context,
    paths: tuple[Path, ...],
    *,
    music: bool,
    keys_each: int | None,
    seed: int | None,
    jobs: int | None,
) -> int:
    """Checks files or folders of intros, rhythms, tunes, sets and rigs; without PATH the whole library.

    Every mistake is told with file, line and column. With --music, every intro is arranged in its keys,
    feels, tempi and line-ups, and what cannot be played or sounds like no player is told with bar and beat;
    a feel, a rhythm or a bass manner stands for the intros that name it, a tune for itself. The exit code
    is 1 when there is anything to tell.
    """
    files = [file for path in paths for file in _files(path)] if paths else None
    if music:
        from introit.cli.music_check import check_music  # the arranger is not loaded to read files

        return 0 if check_music(files, keys_each=keys_each, seed=seed, jobs=jobs) else EXIT_FAILED
    for name, value in (("--keys", keys_each), ("--seed", seed), ("--jobs", jobs)):
        if value is not None:
            raise UsageError(f"{name} is for --music")
    return _check_files(files)


def _check_files(files: Sequence[Path] | None) -> int:
    library, problems = load_library(content_roots())
    counted = _size(library)
    if files is None:
        problems = [*problems, *_problems_of_measures()]
    else:
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
        if path.name == MEASURES_FILE.name:
            read_measures(path)
        else:
            load_file(path, library)
    except ContentError as error:
        return error.problems
    return ()


def _problems_of_measures() -> tuple[Problem, ...]:
    try:
        load_measures(content_roots())
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
