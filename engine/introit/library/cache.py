"""What was read from content files, kept for the next start. Bytes in, bytes out: no file is touched here.

A file's reading stands as long as the file has the stamp it had, and so has every file of the kinds that it
may refer to; the mistakes found in it are kept as well. An edited tune is read again, and so are the sets; an
edited feel has all read again that stands on it. Whatever is not as this very program would write it (another
version, a broken or a foreign file) counts as nothing kept, and all is read from the files.
"""

from __future__ import annotations

import json
import os
import time
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import introit
from introit.errors import Problem
from introit.library.kinds import KINDS, ContentFile, Stamp, stamp_of
from introit.library.model import BassManner, CompingRhythm, Feel, Intro, SetList
from introit.library.pool import Pool
from introit.library.stage import Rig
from introit.library.tune import Tune

MAGIC = b"introit library 1 "
CLASSES = (CompingRhythm, BassManner, Feel, Intro, Rig, Tune, SetList)
SETTLED_NS = 2_000_000_000
"""A younger file may be written again with the same stamp: some file systems count whole seconds."""
MOST_LOOSE = 8
"""How many files that lie in no folder of ours are remembered: the last ones."""
_PACKAGE = Path(introit.__file__).parent
_CODE = ("", "library", "theory")
"""Folders of the package that decide what is read from a file."""


class Read(NamedTuple):
    """What a file describes, as far as it can be used, and every mistake in it."""

    thing: Any
    problems: list[Problem]


class _Kept(NamedTuple):
    """What one start leaves to the next.

    Attributes:
        listed: of each kind, all files that were there, each with its stamp; None where it had not settled.
        read: what was read from those of them that were read.
        loose: files that lie elsewhere: how each was named, its stamp, and what was read.
    """

    listed: dict[str, dict[str, Stamp | None]]
    read: dict[str, Read]
    loose: dict[str, tuple[str, Stamp, Read]]


class Cache:
    """What the last start kept, and what this one will.

    First `lay` every kind, in the order of `KINDS`, and ask for its files; then for files that lie elsewhere.

    Args:
        data: what `to_bytes` gave the last time; None when there is nothing.
        roots: the content's folders, in the order in which they are laid over each other.
        now_ns: the time of day when looking at the files began, in nanoseconds since 1970; None for now.

    Attributes:
        changed: something was read that is not in `data`, or is there no more.
    """

    def __init__(self, data: bytes | None, roots: Sequence[Path], *, now_ns: int | None = None) -> None:
        self._now = time.time_ns() if now_ns is None else now_ns
        self._head = [reading_code(), Pool(CLASSES).shape, [str(root.absolute()) for root in roots]]
        try:
            self._before = self._recalled(data or b"")
        except Exception:  # a foreign file can hold anything; the content itself is there to be read
            self._before = _Kept({}, {}, {})
        self._now_kept = _Kept({}, {}, {})
        self._same = self._same_below = True
        self.changed = data is None

    def _recalled(self, data: bytes) -> _Kept:
        """What is in the data.

        Raises:
            Exception: of whatever kind, when it is not as this program would write it.
        """
        body = _checked(data)
        if body["head"] != self._head:
            raise ValueError("another program's")
        pool = Pool(CLASSES)
        pool.read(body["pool"])

        def read(place: int | None, problems: list[list[Any]]) -> Read:
            thing = None if place is None else pool.get(place)
            return Read(thing, [Problem(*problem) for problem in problems])

        return _Kept(
            listed={
                kind: {path: None if stamp is None else Stamp(*stamp) for path, stamp in files.items()}
                for kind, files in body["listed"].items()
            },
            read={path: read(*kept) for path, kept in body["read"].items()},
            loose={
                path: (named, Stamp(*stamp), read(*kept))
                for path, (named, stamp, *kept) in body["loose"].items()
            },
        )

    def lay(self, kind: str, files: Sequence[ContentFile]) -> None:
        """Tells all files of a kind that there are, read or not, before any of them is asked for."""
        now = {file.path: file.stamp for file in files}
        self._same_below = self._same
        self._same = self._same and self._before.listed.get(kind) == now
        self.changed |= not self._same
        self._now_kept.listed[kind] = {path: self._settled(stamp) for path, stamp in now.items()}

    def recall(self, file: ContentFile) -> Read | None:
        """What was read from a file of the kind laid last; None when it must be read."""
        read = self._before.read.get(file.path)
        stamp = self._before.listed.get(file.kind, {}).get(file.path)
        if read is None or stamp is None or not self._same_below or stamp != file.stamp:
            return None
        self._now_kept.read[file.path] = read
        return read

    def keep(self, file: ContentFile, read: Read) -> None:
        """Keeps what was read from a file."""
        self._now_kept.read[file.path] = read
        self.changed = True

    def recall_loose(self, path: Path) -> Read | None:
        """The same for a file that is named by its path; for after all kinds are laid."""
        named, stamp, read = self._before.loose.get(str(path.absolute()), ("", None, None))
        same = self._same and len(self._now_kept.listed) == len(KINDS)
        return read if same and stamp is not None and named == str(path) and stamp == stamp_of(path) else None

    def keep_loose(self, path: Path, stamp: Stamp | None, read: Read) -> None:
        """Keeps what was read from such a file. stamp: from before it was read."""
        settled = self._settled(stamp)
        if settled is not None:
            self._now_kept.loose[str(path.absolute())] = (str(path), settled, read)
            self.changed = True

    def _settled(self, stamp: Stamp | None) -> Stamp | None:
        return stamp if stamp is not None and abs(self._now - stamp.modified_ns) >= SETTLED_NS else None

    def to_bytes(self) -> bytes:
        """All that is to be kept for the next start."""
        pool = Pool(CLASSES)

        def row(read: Read) -> list[Any]:
            place = None if read.thing is None else pool.put(read.thing)
            return [place, [_told(problem) for problem in read.problems]]

        new = self._now_kept.loose
        older = {path: kept for path, kept in self._before.loose.items() if self._same and path not in new}
        loose = dict([*older.items(), *new.items()][-MOST_LOOSE:])
        body = {
            "head": self._head,
            "listed": self._now_kept.listed,
            "read": {path: row(read) for path, read in self._now_kept.read.items()},
            "loose": {path: [named, stamp, *row(read)] for path, (named, stamp, read) in loose.items()},
        }
        # The pool is text already; to parse it and write it again would take as long as all the rest.
        text = f'{json.dumps(body)[:-1]}, "pool": {pool.text}}}'.encode()
        return b"%s%08x\n%s" % (MAGIC, zlib.crc32(text), text)


def _checked(data: bytes) -> dict[str, Any]:
    """The body of what `to_bytes` gave.

    Raises:
        ValueError: when it is anything else.
    """
    head, _, text = data.partition(b"\n")
    if head != b"%s%08x" % (MAGIC, zlib.crc32(text)):
        raise ValueError("not what was written")
    body: dict[str, Any] = json.loads(text)
    return body


def _told(problem: Problem) -> list[str | int]:
    return [problem.path, problem.line, problem.column, problem.code, problem.message, problem.hint]


def reading_code(package: Path = _PACKAGE) -> list[list[Any]]:
    """What reads the files: the program's version and the stamps of its modules, so no change is missed."""
    found: list[list[Any]] = [[introit.__version__]]
    for folder in _CODE:
        try:
            with os.scandir(package / folder) as entries:
                modules = sorted((entry.name, entry) for entry in entries if entry.name.endswith(".py"))
                for name, entry in modules:
                    status = entry.stat()
                    found.append([folder, name, status.st_mtime_ns, status.st_size])
        except OSError:  # a program in an archive: its version must do
            continue
    return found
