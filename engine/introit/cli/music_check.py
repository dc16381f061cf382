"""`introit check --music`: what is to be reviewed, and telling what was found."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import click

from introit.arrange.line_up import LineUp
from introit.arrange.review import Movement
from introit.arrange.review.sweep import Setting, users_of
from introit.arrange.suggest import rank
from introit.cli.review_pool import ALL_KEYS, Bench, Found, Job, jobs_for, search, usable_cores
from introit.errors import ContentError, Problem, UsageError
from introit.library.content import content_roots
from introit.library.loader import load_file, load_library
from introit.library.measures import FILE as MEASURES_FILE
from introit.library.measures import load_measures
from introit.library.model import BassManner, CompingRhythm, Feel, Intro, Library, SetList, Tune

_SHELVES: dict[type[Any], str] = {
    Intro: "intros",
    Feel: "feels",
    CompingRhythm: "comping",
    BassManner: "bass",
    Tune: "tunes",
}


def check_music(
    files: Sequence[Path] | None, *, keys_each: int | None, seed: int | None, jobs: int | None
) -> bool:
    """Reviews the whole library, or what the files describe; tells it; says whether all is well.

    Args:
        files: the user's own; None for the whole library.
        keys_each: how many keys of each mode, 1 to 12; None for all.
        seed: of every playing; None for another one from score to score.
        jobs: processes at once; None for as many as cores.

    Raises:
        UsageError: when there is nothing to review in the files.
        ContentError: when the file of measures has mistakes.
    """
    library, problems = load_library(content_roots())
    bench = Bench(library, load_measures(content_roots()), keys_each or ALL_KEYS, seed)
    if files is None:
        work = jobs_for(library, list(library.intros))
    else:
        work, problems = _work_in(files, library)
    for problem in problems:
        click.echo(str(problem))
    if not work and not problems:
        raise UsageError("there is no intro, feel, rhythm, bass manner or tune to review in what is given")
    return _review(bench, work, processes=jobs or usable_cores(), mistakes=len(problems))


def _review(bench: Bench, work: Sequence[Job], *, processes: int, mistakes: int) -> bool:
    """Reviews and tells; says whether there were no breaches, and no mistakes that left music out."""
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
    if found:
        click.echo(str(total))
    click.echo(_summary(found, rules.total(), mistakes))
    return not rules and not mistakes


def _summary(found: Sequence[Found], breaches: int, mistakes: int) -> str:
    if mistakes and not found:
        return f"{_many(mistakes, 'mistake')}, and no music to review"
    intros = len({one.intro for one in found})
    size = f"{_many(mistakes, 'mistake')}; " if mistakes else ""
    size += f"{_many(intros, 'intro')}, {_many(sum(one.scores for one in found), 'score')}"
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


def _work_in(files: Sequence[Path], library: Library) -> tuple[list[Job], list[Problem]]:
    """What to review for the user's own files, which are put into the library, and the mistakes in them."""
    things, problems = _own_things(files, library)
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
