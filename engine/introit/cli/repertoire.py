"""The tunes of the evening, read again when their files are saved while it runs."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Protocol

from introit.cli.folder_news import FolderNews
from introit.cli.slots import Slots
from introit.cli.watch import Watch
from introit.errors import IntroitError, Problem
from introit.library.kinds import ENDINGS, FOLDERS, Stamp, stamp_of
from introit.library.loader import read_file
from introit.library.model import Library, SetList, Tune
from introit.library.rereading import MUSIC, content_files, reread, same_music
from introit.live.events import Ready, Refused, Reordered

POLL_SECONDS = 0.4
"""What is saved is the same at two looks, and so is taken within a second."""
ANYWAY_SECONDS = 30.0
"""How often there is a look without a reason: see `folder_news`."""


class Arranges(Protocol):
    """The desk, as far as it takes other tunes."""

    def take(
        self, tunes: Sequence[Tune | None], library: Library, *, say: Callable[[str], None]
    ) -> Iterator[Ready]:
        """See `Desk.take`."""


class Asks(Protocol):
    """Whoever sends on what the desk arranges."""

    def renew(self, answers: Iterator[Ready | Refused | Reordered]) -> None:
        """Sends these on, one at a time, after what is wanted."""


class Repertoire:
    """What a set's name means, now and after a save.

    Args:
        name: of a set, a tune, a file, or a call in words; what `content.find_set` takes.
        library: all content.
        tunes: what the name meant when the evening began.
        roots: where content lies.
        mistakes: those that were there when the evening began, which are not told again; None to look.
    """

    def __init__(
        self,
        name: str,
        library: Library,
        tunes: tuple[Tune, ...],
        *,
        roots: Sequence[Path],
        mistakes: Iterable[Problem] | None = None,
    ) -> None:
        self._name = name
        self._roots = roots
        self._set = _set_file(name, library, roots)
        if mistakes is None:
            mistakes = read_file(self._set, library)[1] if self._set else ()
        self._problems = frozenset(mistakes)
        self._slots = Slots.of(tunes)
        self.library = library
        self.tunes = tunes

    @property
    def file(self) -> Path | None:
        """The set's own file, or the tune's that was named by its path; None where there is none."""
        return self._set

    def goes_on_with(self, path: Path) -> None:
        """Takes another file for the set's own from now on: a copy that was made of it."""
        self._set = path

    def files(self) -> list[Path]:
        """Everything that the tunes are made from."""
        return [Path(path) for path in self.stamps()]

    def stamps(self) -> dict[str, Stamp | None]:
        """The paths of the same, with their stamps."""
        found = {file.path: file.stamp for file in content_files(self._roots)}
        return found if self._set is None else {**found, str(self._set): stamp_of(self._set)}

    def folders(self) -> list[Path]:
        """Where these files lie, and where more may come."""
        folders = [root / FOLDERS[kind] for root in self._roots for kind in MUSIC]
        return [*folders, *([self._set.absolute().parent] if self._set else [])]

    def read_again(self, saved: Iterable[Path]) -> tuple[bool, list[str]]:
        """Reads saved files.

        Returns:
            Whether the tunes or what they are made from have changed, and what is to be said: a line for each
            file that has mistakes and is left as it was.
        """
        paths = {str(path) for path in saved}
        library, problems = reread(
            self.library, [file for file in content_files(self._roots) if file.path in paths]
        )
        tunes, more = self._tunes(library)
        said = _told([*problems, *more])
        changed = tunes != self.tunes or not same_music(library, self.library)
        self.library, self.tunes = library, tunes
        self._slots = self._slots.filled(tunes)
        return changed, said

    def places(self) -> Sequence[Tune | None]:
        """The tunes by the index that the player counts; None where one was taken out of the set."""
        return self._slots.tunes

    @property
    def order(self) -> tuple[int, ...]:
        """In which order they are played, by their index."""
        return self._slots.order

    def is_lost(self, path: Path) -> bool:
        """Whether nothing has taken the place of a file that is gone."""
        there = {(file.parent.name, file.stem) for file in self.files() if file != path}
        return (path.parent.name, path.stem) not in there

    def _tunes(self, library: Library) -> tuple[tuple[Tune, ...], list[Problem]]:
        if self._set is None:
            if self._name in library.tunes:
                return (library.tunes[self._name],), []
            from introit.library.calls import called_tune  # only a set that was called in words needs it

            try:
                return (called_tune(self._name, library),), []
            except IntroitError:
                return self.tunes, []
        if not self._set.is_file():
            return self.tunes, []  # told when it went
        thing, problems = read_file(self._set, library)
        new = [problem for problem in problems if problem not in self._problems]
        found = _of(thing)
        return (self.tunes, new or problems) if new or not found else (found, [])


def _of(thing: object) -> tuple[Tune, ...]:
    if isinstance(thing, Tune):
        return (thing,)
    return thing.tunes if isinstance(thing, SetList) else ()


def _set_file(name: str, library: Library, roots: Sequence[Path]) -> Path | None:
    """The file of a set by its id, or a set or tune by its path; None for what has none of its own."""
    if name in library.sets:
        there = [
            path
            for root in reversed(roots)
            for ending in ENDINGS
            if (path := root / FOLDERS["set"] / f"{name}{ending}").is_file()
        ]
        return there[0] if there else None
    path = Path(name)
    return path if name not in library.tunes and path.is_file() else None


def _told(problems: Sequence[Problem]) -> list[str]:
    """The first mistake of each file in a line."""
    by_file: dict[str, list[Problem]] = {}
    for problem in problems:
        by_file.setdefault(problem.path, []).append(problem)
    return [
        f"{found[0]}{f' (and {len(found) - 1} more)' if len(found) > 1 else ''}; kept as it was"
        for found in by_file.values()
    ]


class Rereader:
    """Looks whether something was saved, in the front's own loop: twice a second, where there is a reason to.

    Args:
        repertoire: what the evening is played from.
        desk: takes what has changed.
        say: writes a line.
        clock: seconds.
    """

    def __init__(
        self,
        repertoire: Repertoire,
        desk: Arranges,
        *,
        say: Callable[[str], None],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._repertoire = repertoire
        self._desk = desk
        self._say = say
        self._clock = clock
        self._news = FolderNews()
        self._news.follow(repertoire.folders())
        self._watch = Watch(repertoire.stamps)
        self._next = clock() + POLL_SECONDS
        self._anyway = clock() + ANYWAY_SECONDS

    def tick(self, front: Asks) -> float:
        """Looks when it is time to; returns the seconds to the next look."""
        now = self._clock()
        if now >= self._next:
            self._next = now + POLL_SECONDS
            if not (self._news.come() or self._watch.unsettled or now >= self._anyway):
                return POLL_SECONDS
            self._anyway = now + ANYWAY_SECONDS
            self._news.follow(self._repertoire.folders())  # before looking: one may be new
            saved = self._watch.look()
            for path in self._watch.gone():
                if self._repertoire.is_lost(path):
                    self._say(f"{path}: the file is gone; what was read from it is kept")
            if saved:
                self._take(saved, front, ", ".join(path.name for path in saved))
        return min(max(0.0, self._next - now), POLL_SECONDS)

    def again(self, front: Asks) -> None:
        """Reads everything again, whether it was saved or not, and says so where nothing has changed."""
        self._watch.look()
        if not self._take(self._repertoire.files(), front, "everything, as asked"):
            self._say("read again: everything, as asked; nothing has changed")

    def take_file(self, path: Path, front: Asks) -> None:
        """Reads one file again at once, without waiting until it was the same at two looks."""
        self._news.follow(self._repertoire.folders())
        self._take([path], front, path.name)

    def _take(self, saved: list[Path], front: Asks, names: str) -> bool:
        """Takes over what was saved; whether there was anything to take over or to tell."""
        repertoire = self._repertoire
        before = repertoire.order
        changed, said = repertoire.read_again(saved)
        for line in said:
            self._say(line)
        if changed:
            answers = self._desk.take(repertoire.places(), repertoire.library, say=self._say)
            order = None if repertoire.order == before else Reordered(repertoire.order)
            front.renew(self._telling(names, answers, order))
        return changed or bool(said)

    def _telling(
        self, names: str, answers: Iterator[Ready], order: Reordered | None
    ) -> Iterator[Ready | Reordered]:
        """The same answers; says what was read again once the first of them has been sent.

        The order of the tunes is sent as soon as the desk knows them.
        """
        first = next(answers, None)
        if order is not None:
            yield order
        if first is not None:
            yield first
        count = 0 if order is None else len(order.order)
        tunes = f"; {count} tune{'' if count == 1 else 's'} now" if count else ""
        self._say(f"read again: {names}{tunes}; heard from the next start on")
        yield from answers
