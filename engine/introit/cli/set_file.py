"""The evening's set file: what it says now, and edits that are written into it and never over another's."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from introit.cli.own_file import is_programs, own_path, tried
from introit.cli.set_news import told_news
from introit.errors import ContentError, IntroitError, Problem
from introit.export.atomic import write_atomically
from introit.export.replacing import ChangedError, replace_unchanged
from introit.library.model import Library, SetList, Tune
from introit.library.set_editing import Change, Edit, EditError, Entry, Move, edited_set, entries_of

_BOM = "\ufeff"
_KEPT = 16
"""So many revisions are known, to say what has become of each."""
NO_FILE = "This evening was called in words or is one tune: there is no set file to change."


class StaleError(IntroitError):
    """The file is not any more what the edit was made for; nothing was written."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A set file as it was read.

    Attributes:
        revision: a digest of its bytes.
        text: what stands in it, without a byte order mark.
        tunes: those that can be played.
        entries: what each entry says itself, those with mistakes too.
        places: of each of the tunes, its place among the entries.
        problems: the mistakes.
    """

    revision: str
    text: str
    tunes: tuple[Tune, ...]
    entries: tuple[Entry, ...]
    places: tuple[int, ...]
    problems: tuple[Problem, ...]


class SetFile:
    """A set file.

    Args:
        path: where it lies.
        library: gives what it is read against.

    Attributes:
        path: where it lies; another one once the program's has been copied for its user.
    """

    def __init__(self, path: Path, library: Callable[[], Library]) -> None:
        self.path = path
        self._library = library
        self._read: tuple[bytes, Library, Reading] | None = None
        self._known: dict[str, tuple[Tune, ...]] = {}
        self._ours: set[str] = set()

    def read(self) -> Reading:
        """What it says now; read anew only where it has changed.

        Raises:
            IntroitError: if it cannot be read, or is no set.
        """
        data = self._bytes()
        library = self._library()
        if self._read is not None and self._read[0] == data and self._read[1] is library:
            return self._read[2]
        reading = self._reading(data, library)
        self._read = data, library, reading
        self._known[reading.revision] = reading.tunes
        for old in list(self._known)[:-_KEPT]:
            del self._known[old]
        return reading

    def edit(self, revision: str, edit: Edit) -> Reading:
        """Makes an edit of the tunes and writes the file, whole or not at all.

        A file that comes with the program is left alone: a copy in the user's folder is written.

        Args:
            revision: of the file that the edit was made for.
            edit: with places among the tunes that can be played, as `Reading.tunes` has them.

        Raises:
            StaleError: if the file is another one by now.
            ContentError: if the set would have mistakes that it has not now.
            IntroitError: if the edit cannot be made or the file not be written.
        """
        before = self.read()
        self._check_fresh(revision, before)
        assert self._read is not None
        expected = self._read[0]
        text = edited_set(before.text, _among_entries(edit, before.places))
        bom = _BOM if expected.decode().startswith(_BOM) else ""
        data = (bom + text).encode()
        after = self._reading(data, self._library())
        _check_no_new_mistakes(before, after)
        path = own_path(self.path, "set")
        if path == self.path:
            self._replace(data, expected, revision)
        else:
            write_atomically(path, data)
        self.path = path
        self._ours.add(after.revision)
        return self.read()

    @property
    def is_programs(self) -> bool:
        """Whether it comes with the program."""
        return is_programs(self.path, "set")

    def _replace(self, data: bytes, expected: bytes, revision: str) -> None:
        """Writes it over what was read; all this takes a while, and somebody may have saved meanwhile."""
        try:
            replace_unchanged(self.path, data, expected)
        except ChangedError as error:
            self._check_fresh(revision, self.read())
            raise StaleError(f"Nothing was changed: {error}. Do it again.") from error

    def _check_fresh(self, revision: str, now: Reading) -> None:
        if revision == now.revision:
            return
        who = "on another page" if now.revision in self._ours else "in its file"
        known = self._known.get(revision)
        news = told_news(known, now.tunes) if known is not None else ""
        raise StaleError(
            f"Nothing was changed: the set has been changed {who} meanwhile{f' ({news})' if news else ''}. "
            "This is how it is now; look at it and do it again."
        )

    def _bytes(self) -> bytes:
        try:
            return self.path.read_bytes()
        except OSError as error:
            raise IntroitError(f"{self.path} cannot be read: {error.strerror or error}") from error

    def _reading(self, data: bytes, library: Library) -> Reading:
        thing, problems = tried(self.path, data, self.path.parent.name or "here", library)
        if not isinstance(thing, SetList):
            if problems:
                raise ContentError(problems)
            raise IntroitError(NO_FILE)
        text = data.decode().removeprefix(_BOM)
        entries = tuple(entries_of(text))
        wrong = {problem.line for problem in problems}
        places = tuple(
            place
            for place, entry in enumerate(entries)
            if wrong.isdisjoint(range(entry.lines[0], entry.lines[1] + 1))
        )
        if len(places) != len(thing.tunes):
            raise (
                ContentError(problems)
                if problems
                else EditError(f"{self.path}: its tunes cannot be told apart")
            )
        import hashlib  # with OpenSSL: whoever edits no set needs none

        revision = hashlib.sha256(data).hexdigest()[:16]
        return Reading(revision, text, thing.tunes, entries, places, tuple(problems))


def _among_entries(edit: Edit, places: Sequence[int]) -> Edit:
    """The same edit with places among all entries."""
    wanted = (edit.index, edit.to) if isinstance(edit, Move) else (edit.index,)
    if not all(0 <= place < len(places) for place in wanted):
        raise EditError(f"the set has {len(places)} tunes; there is no such place in it")
    if isinstance(edit, Move):
        return Move(places[edit.index], places[edit.to])
    return Change(places[edit.index], edit.values)


def _check_no_new_mistakes(before: Reading, after: Reading) -> None:
    old = Counter((problem.code, problem.message) for problem in before.problems)
    new = []
    for problem in after.problems:
        name = (problem.code, problem.message)
        if old[name]:
            old[name] -= 1
        else:
            new.append(problem)
    if new:
        raise ContentError(new)
