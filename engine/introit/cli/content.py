"""Loads the library for a command; what is wrong with it is said once, and the rest is used."""

from __future__ import annotations

from pathlib import Path

import click

from introit.errors import ContentError, NotationError, Problem, UsageError, did_you_mean
from introit.library.calls import called_tune
from introit.library.content import content_roots
from introit.library.loader import load_file, load_library, read_file
from introit.library.model import Intro, Library, SetList, Tune
from introit.library.stage import Rig


def open_library(*, quiet: bool = False) -> Library:
    """Every intro, rhythm, tune, set and rig that loads; the mistakes of the others go to standard error."""
    library, problems = load_library(content_roots())
    if not quiet:
        _tell(problems)
    return library


def _tell(problems: list[Problem]) -> None:
    for problem in problems:
        click.echo(f"introit: left out: {problem}", err=True)


def find_intro(library: Library, name: str) -> Intro:
    """The intro with this id.

    Raises:
        UsageError: when there is none, with the nearest id.
    """
    if name not in library.intros:
        hint = did_you_mean(name, library.intros) or "'introit intros' lists them."
        raise UsageError(f"no intro {name!r}. {hint}")
    return library.intros[name]


def find_set(library: Library, name: str) -> SetList:
    """A set by its id or its file; a tune's id or a spoken call makes a set of one.

    Raises:
        UsageError: when it is none of these.
        ContentError: when the file has mistakes.
    """
    if name in library.sets:
        return library.sets[name]
    if name in library.tunes:
        return _alone(library.tunes[name])
    path = Path(name)
    if path.suffix in {".yaml", ".yml"} or path.is_file():
        return _set_from_file(path, library)
    if "," in name:
        try:
            return _alone(called_tune(name, library))
        except NotationError as error:
            raise UsageError(str(error)) from error
    hint = did_you_mean(name, [*library.sets, *library.tunes])
    raise UsageError(
        f"no set, tune or file {name!r}. "
        + (
            hint
            or "'introit sets' and 'introit tunes' list them; 'medium swing, Ab, starts on two' works too."
        )
    )


def _set_from_file(path: Path, library: Library) -> SetList:
    """The set in a file; a tune with mistakes is told and left out, and the evening goes on without it."""
    if not path.is_file():
        raise UsageError(f"no file {str(path)!r}")
    thing, problems = read_file(path, library)
    if thing is None or (isinstance(thing, SetList) and not thing.tunes):
        raise ContentError(problems)
    if isinstance(thing, Tune):
        return _alone(thing)
    if not isinstance(thing, SetList):
        raise UsageError(f"{path} holds no set and no tune but {type(thing).__name__.lower()}")
    _tell(problems)
    return thing


def _alone(tune: Tune) -> SetList:
    return SetList(id=tune.id, title=tune.title, tunes=(tune,))


def find_rig(library: Library, name: str) -> Rig:
    """A rig by its id or its file.

    Raises:
        UsageError: when there is none.
        ContentError: when the file has mistakes.
    """
    if name in library.rigs:
        return library.rigs[name]
    path = Path(name)
    if path.is_file():
        thing = load_file(path, library)
        if isinstance(thing, Rig):
            return thing
        raise UsageError(f"{path} holds no rig but {type(thing).__name__.lower()}")
    hint = did_you_mean(name, library.rigs) or f"Rigs: {', '.join(library.rigs) or 'none'}."
    raise UsageError(f"no rig {name!r}. {hint}")
