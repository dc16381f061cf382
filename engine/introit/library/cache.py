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
        self._pool = Pool(CLASSES)
        self._head = [reading_code(), self._pool.shape, [str(root.absolute()) for root in roots]]
        self._listed: dict[str, dict[str, list[int] | None]] = {}
        self._kept: dict[str, list[Any]] = {}
        self._loose: dict[str, list[Any]] = {}
        self._recall(data)
        self._new_listed: dict[str, dict[str, Stamp | None]] = {}
        self._new: dict[str, Read] = {}
        self._new_loose: dict[str, tuple[str, Stamp, Read]] = {}
        self._same = self._same_below = True
        self.changed = data is None

    def _recall(self, data: bytes | None) -> None:
        try:
            body = _checked(data or b"")
            if body["head"] != self._head:
                return
            self._pool.read(body["pool"])
            self._listed, self._kept, self._loose = body["listed"], body["kept"], body["loose"]
        except Exception:  # a foreign file can hold anything; the content itself is there to be read
            self._pool = Pool(CLASSES)

    def lay(self, kind: str, files: Sequence[ContentFile]) -> None:
        """Tells all files of a kind that there are, read or not, before any of them is asked for."""
        now = {file.path: file.stamp for file in files}
        self._same_below = self._same
        self._same = self._same and self._listed.get(kind) == {
            path: None if stamp is None else list(stamp) for path, stamp in now.items()
        }
        self.changed |= not self._same
        self._new_listed[kind] = {path: self._settled(stamp) for path, stamp in now.items()}

    def recall(self, file: ContentFile) -> Read | None:
        """What was read from a file of the kind laid last; None when it must be read."""
        kept = self._kept.get(file.path)
        stamp = self._listed.get(file.kind, {}).get(file.path)
        if kept is None or stamp is None or not self._same_below or Stamp(*stamp) != file.stamp:
            return None
        read = self._read(kept)
        self._new[file.path] = read
        return read

    def keep(self, file: ContentFile, read: Read) -> None:
        """Keeps what was read from a file."""
        self._new[file.path] = read
        self.changed = True

    def recall_loose(self, path: Path) -> Read | None:
        """The same for a file that is named by its path; for after all kinds are laid."""
        kept = self._loose.get(str(path.absolute()))
        if kept is None or not self._same or len(self._new_listed) < len(KINDS):
            return None
        named, stamp, *rest = kept
        if named != str(path) or Stamp(*stamp) != stamp_of(path):
            return None
        return self._read(rest)

    def keep_loose(self, path: Path, stamp: Stamp | None, read: Read) -> None:
        """Keeps what was read from such a file. stamp: from before it was read."""
        settled = self._settled(stamp)
        if settled is not None:
            self._new_loose[str(path.absolute())] = (str(path), settled, read)
            self.changed = True

    def _read(self, kept: Sequence[Any]) -> Read:
        place, problems = kept
        thing = None if place is None else self._pool.get(place)
        return Read(thing, [Problem(*problem) for problem in problems])

    def _settled(self, stamp: Stamp | None) -> Stamp | None:
        return stamp if stamp is not None and abs(self._now - stamp.modified_ns) >= SETTLED_NS else None

    def to_bytes(self) -> bytes:
        """All that is to be kept for the next start."""
        pool = Pool(CLASSES)

        def row(read: Read) -> list[Any]:
            place = None if read.thing is None else pool.put(read.thing)
            return [place, [_told(problem) for problem in read.problems]]

        before = {
            path: (named, Stamp(*stamp), self._read(rest))
            for path, (named, stamp, *rest) in (self._loose if self._same else {}).items()
        }
        loose = dict(list({**before, **self._new_loose}.items())[-MOST_LOOSE:])
        body = {
            "head": self._head,
            "listed": self._new_listed,
            "kept": {path: row(read) for path, read in self._new.items()},
            "loose": {path: [named, stamp, *row(read)] for path, (named, stamp, read) in loose.items()},
        }
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
