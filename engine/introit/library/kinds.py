"""The kinds of content, and where the files of each lie."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

KINDS = ("comping", "bass", "feel", "intro", "rig", "tune", "set")
"""Kinds of content, each after those it refers to."""
SHELVES = {
    "comping": "comping", "bass": "bass", "feel": "feels", "intro": "intros",
    "rig": "rigs", "tune": "tunes", "set": "sets",
}  # fmt: skip
"""The name of each kind's folder, and of its dictionary in a `Library`."""
FOLDERS = {
    "comping": "patterns/comping", "bass": "patterns/bass", "feel": "patterns/feels",
    "intro": "patterns/intros", "tune": "patterns/tunes", "rig": "config/rigs", "set": "config/sets",
}  # fmt: skip
"""Where the files of each kind lie below a root."""
ENDINGS = (".yaml", ".yml")


class Stamp(NamedTuple):
    """What changes when a file is written."""

    modified_ns: int
    size: int
    inode: int


def stamp_of(path: Path) -> Stamp | None:
    """The file's stamp; None while there is no such file (an editor may just be replacing it)."""
    try:
        return _stamp(path.stat())
    except (OSError, ValueError):
        return None


def _stamp(status: os.stat_result) -> Stamp:
    return Stamp(status.st_mtime_ns, status.st_size, status.st_ino)


class ContentFile(NamedTuple):
    """A content file as its folder lists it.

    Attributes:
        kind: of what lies in its folder.
        name: without the ending; the id of what it describes.
        path: as text, since there may be thousands.
        stamp: None where it could not be looked at.
    """

    kind: str
    name: str
    path: str
    stamp: Stamp | None


def files_of(kind: str, roots: Sequence[Path]) -> Iterator[list[ContentFile]]:
    """The files of a kind in each of the roots, in order of their names; hidden ones are left alone."""
    for root in roots:
        try:
            with os.scandir(root / FOLDERS[kind]) as entries:
                found = [entry for entry in entries if entry.name.endswith(ENDINGS) and entry.name[0] != "."]
        except OSError:
            found = []
        found.sort(key=lambda entry: entry.name)
        yield [ContentFile(kind, _stem(entry.name), entry.path, _stamp_of(entry)) for entry in found]


def _stamp_of(entry: os.DirEntry[str]) -> Stamp | None:
    try:
        return _stamp(entry.stat())
    except OSError:
        return None


def _stem(name: str) -> str:
    return name.rpartition(".")[0]
