"""Loads the library for a command; what is wrong with it is said once, and the rest is used."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Sequence
from pathlib import Path

import click

from introit.errors import ContentError, IntroitError, NotationError, Problem, UsageError, did_you_mean
from introit.export.atomic import write_atomically
from introit.library.cache import Cache
from introit.library.content import HOME_VARIABLE, cache_file, content_roots
from introit.library.loader import load_library, read_file
from introit.library.model import Intro, Library, SetList, Tune
from introit.library.stage import Rig

ReadFile = Callable[[Path, Library], tuple[object | None, list[Problem]]]
"""What a file describes against a library, and its mistakes; see `loader.read_file`."""


class Content:
    """The library of one command, with what was kept of it the last time.

    Args:
        roots: where content lies.
        kept: the file that it is kept in.

    Attributes:
        library: every intro, rhythm, tune, set and rig that loads.
        problems: the mistakes of the others, and those in files read since.
    """

    def __init__(self, roots: Sequence[Path], kept: Path) -> None:
        self._kept = kept
        cache = Cache(_bytes_of(kept), roots)
        self._cache: Cache | None = cache
        self.library, self.problems = load_library(roots, cache=cache)

    def read(self, path: Path, library: Library) -> tuple[object | None, list[Problem]]:
        """A file that is named by its path, as `loader.read_file` reads it; against this library only."""
        read = read_file(path, library, cache=self._cache if library is self.library else None)
        self.problems += read[1]
        return read

    def keep(self) -> None:
        """Keeps for the next time what was read, once; what cannot be kept is read again then."""
        cache, self._cache = self._cache, None  # thousands of stamps, which nobody needs for an evening
        if cache is not None and cache.changed:
            with contextlib.suppress(IntroitError, OSError):
                _make_folder(self._kept.parent)
                write_atomically(self._kept, cache.to_bytes())


def _bytes_of(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except OSError:
        return None


def _make_folder(folder: Path) -> None:
    """A user's own folder that is not there stays so: its name may be a slip."""
    folder.mkdir(parents=not os.environ.get(HOME_VARIABLE), exist_ok=True)


def open_content(*, quiet: bool = False) -> Content:
    """All content; the mistakes go to standard error. Call `keep` when all is read that is needed."""
    content = Content(content_roots(), cache_file())
    if not quiet:
        _tell(content.problems)
    return content


def open_library(*, quiet: bool = False) -> Library:
    """Every intro, rhythm, tune, set and rig that loads; the mistakes of the others go to standard error."""
    content = open_content(quiet=quiet)
    content.keep()
    return content.library


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


def find_set(library: Library, name: str, *, read: ReadFile = read_file) -> SetList:
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
        return _set_from_file(path, library, read)
    if "," in name:
        from introit.library.calls import called_tune

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


def _set_from_file(path: Path, library: Library, read: ReadFile) -> SetList:
    """The set in a file; a tune with mistakes is told and left out, and the evening goes on without it."""
    if not path.is_file():
        raise UsageError(f"no file {str(path)!r}")
    thing, problems = read(path, library)
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


def find_rig(library: Library, name: str, *, read: ReadFile = read_file) -> Rig:
    """A rig by its id or its file.

    Raises:
        UsageError: when there is none.
        ContentError: when the file has mistakes.
    """
    if name in library.rigs:
        return library.rigs[name]
    path = Path(name)
    if path.is_file():
        thing, problems = read(path, library)
        if problems:
            raise ContentError(problems)
        if isinstance(thing, Rig):
            return thing
        raise UsageError(f"{path} holds no rig but {type(thing).__name__.lower()}")
    hint = did_you_mean(name, library.rigs) or f"Rigs: {', '.join(library.rigs) or 'none'}."
    raise UsageError(f"no rig {name!r}. {hint}")
