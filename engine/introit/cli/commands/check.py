"""`introit check`: reads content files and tells every mistake; with `--music`, reviews the music in them."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from introit.arrange.line_up import LineUp
from introit.arrange.review import Movement
from introit.arrange.review.breach import plural
from introit.arrange.review.sweep import Setting, users_of
from introit.arrange.suggest import rank
from introit.cli.music_check import ALL_KEYS, Bench, Found, Job, jobs_for, search, usable_cores
from introit.errors import EXIT_FAILED, ContentError, Problem, UsageError
from introit.library.content import content_roots
from introit.library.loader import load_file, load_library
from introit.library.measures import FILE as MEASURES_FILE
from introit.library.measures import load_measures, read_measures
from introit.library.model import BassManner, CompingRhythm, Feel, Intro, Library, SetList, Tune

_SHELVES: dict[type[Any], str] = {
    Intro: "intros",
    Feel: "feels",
    CompingRhythm: "comping",
    BassManner: "bass",
    Tune: "tunes",
}


class _Keys(click.ParamType[int]):
    """How many keys of each mode: 1 to 12, or `all`."""

    name = "1-12|all"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        if value == "all":
            return ALL_KEYS
        if str(value) not in map(str, range(1, ALL_KEYS + 1)):
            self.fail(f"{value!r} is no number of keys; allowed is 1 to {ALL_KEYS} or all", param, ctx)
        return int(value)


@click.command()
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path, exists=True))
@click.option("--music", is_flag=True, help="Arrange every intro in every way and review what is played.")
@click.option(
    "--keys", "keys_each", type=_Keys(), help="Keys of each mode to review: 1 to 12, or all (usual)."
)
@click.option("--seed", type=int, help="Of every playing; 0 when left out.")
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
    if not music:
        for name, value in (("--keys", keys_each), ("--seed", seed), ("--jobs", jobs)):
            if value is not None:
                raise UsageError(f"{name} is for --music")
        return _check_files(paths)
    library, problems = load_library(content_roots())
    measures = load_measures(content_roots())
    if paths:
        work, problems = _work_in(paths, library)
    else:
        work = jobs_for(library, list(library.intros))
    for problem in problems:
        click.echo(str(problem))
    if not work and not problems:
        raise UsageError("there is no intro, feel, rhythm, bass manner or tune to review in what is given")
    bench = Bench(library, measures, keys_each or ALL_KEYS, seed or 0)
    clean = _review(bench, work, processes=jobs or usable_cores())
    return 0 if clean and not problems else EXIT_FAILED


def _check_files(paths: tuple[Path, ...]) -> int:
    library, problems = load_library(content_roots())
    counted = _size(library)
    if paths:
        files = [file for path in paths for file in _files(path)]
        problems = [problem for file in files for problem in _problems(file, library)]
        counted = plural(len(files), "file")
    else:
        problems = [*problems, *_problems_of_measures()]
    for problem in problems:
        click.echo(str(problem))
    mistakes = plural(len(problems), "mistake") if problems else "no mistakes"
    click.echo(f"{counted}: {mistakes}")
    return EXIT_FAILED if problems else 0


def _review(bench: Bench, work: Sequence[Job], *, processes: int) -> bool:
    """Reviews and tells; says whether there were no breaches."""
    found: list[Found] = []
    for one in search(bench, work, processes=processes, progress=_progress):
        found.append(one)
        for line in one.lines:
            click.echo(line)
    _clear_progress()
    rules = sum((one.rules for one in found), Counter[str]())
    for rule, count in rules.most_common():
        click.echo(f"{count:>8,}  {rule}")
    total = Movement()
    for one in found:
        total = total.plus(one.movement)
    click.echo(str(total))
    click.echo(_summary(found, rules.total()))
    return not rules


def _summary(found: Sequence[Found], breaches: int) -> str:
    intros = len({one.intro for one in found})
    size = f"{_many(intros, 'intro')}, {_many(sum(one.scores for one in found), 'score')}"
    if not breaches:
        return f"{size}: no breaches"
    scores = _many(sum(one.bad_scores for one in found), "score")
    bad = _many(len({one.intro for one in found if one.bad_scores}), "intro")
    return f"{size}: {_many(breaches, 'breach')} in {scores} of {bad}"


def _many(count: int, word: str) -> str:
    ending = "" if count == 1 else "es" if word.endswith("ch") else "s"
    return f"{count:,} {word}{ending}"


def _progress(done: int, of: int) -> None:
    if sys.stderr.isatty():
        click.echo(f"\r{done} of {of}", err=True, nl=False)


def _clear_progress() -> None:
    if sys.stderr.isatty():
        click.echo("\r\x1b[K", err=True, nl=False)


def _work_in(paths: Iterable[Path], library: Library) -> tuple[list[Job], list[Problem]]:
    """What to review for the user's own files, which are put into the library, and the mistakes in them."""
    things, problems = _own_things([file for path in paths for file in _files(path)], library)
    intros: dict[str, None] = {}
    tunes: list[Tune] = []
    for thing in things:
        match thing:
            case Intro():
                intros[thing.id] = None
            case Feel() | CompingRhythm() | BassManner():
                intros |= dict.fromkeys(intro.id for intro in users_of([thing.id], library))
            case Tune():
                tunes.append(thing)
            case SetList():
                tunes += thing.tunes
    own = [job for tune in tunes for job in _jobs_of_tune(tune, library)]
    return [*jobs_for(library, list(intros)), *own], problems


def _own_things(files: Sequence[Path], library: Library) -> tuple[list[object], list[Problem]]:
    """Everything that can be read; a file that names another one of them is read again after it."""
    things: list[object] = []
    left = [file for file in files if file.name != MEASURES_FILE.name]
    while left:
        problems: list[Problem] = []
        again: list[Path] = []
        for file in left:
            try:
                thing = load_file(file, library)
            except ContentError as error:
                problems += error.problems
                again.append(file)
            else:
                things.append(thing)
                _put(thing, library)
        if len(again) == len(left):
            return things, problems
        left = again
    return things, []


def _put(thing: object, library: Library) -> None:
    shelf = _SHELVES.get(type(thing))
    if shelf is not None:
        things: dict[str, object] = getattr(library, shelf)
        things[getattr(thing, "id")] = thing  # noqa: B009 - each of these kinds has one


def _jobs_of_tune(tune: Tune, library: Library) -> Iterator[Job]:
    """Its own intro before it, else the one that suits best, by its own line-up or all of the intro's."""
    intro = library.intros.get(tune.intro or "")
    if intro is None:
        suggestions = rank(library.intros.values(), tune, tune.key)
        intro = suggestions[0].intro if suggestions else None
    if intro is not None:
        names = [tune.line_up] if tune.line_up else intro.line_ups
        yield Job(intro.id, tune.feel, tuple(Setting(tune, LineUp(name)) for name in names))


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
