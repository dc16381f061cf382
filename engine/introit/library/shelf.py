"""What has been loaded so far, and names that refer to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from introit.errors import did_you_mean
from introit.library.fields import Reader, word
from introit.library.model import Library
from introit.library.nodes import Node
from introit.library.reading import Reading, shown

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


def empty_library() -> Library:
    """A library with nothing in it."""
    return Library(intros={}, comping={}, bass={}, feels={}, tunes={}, sets={}, rigs={})


@dataclass(slots=True)
class Shelf:
    """A library being filled.

    Attributes:
        library: what loaded without a mistake.
        broken: for each kind, the ids that did not, with their files.
    """

    library: Library = field(default_factory=empty_library)
    broken: dict[str, dict[str, str]] = field(default_factory=dict)

    def of(self, kind: str) -> Mapping[str, Any]:
        """Everything of a kind, by id."""
        things: Mapping[str, Any] = getattr(self.library, SHELVES[kind])
        return things

    def put(self, kind: str, name: str, thing: Any) -> None:
        """Adds one thing."""
        getattr(self.library, SHELVES[kind])[name] = thing

    def leave_out(self, kind: str, name: str, path: str) -> None:
        """Notes that one thing has mistakes and is not there."""
        self.broken.setdefault(kind, {})[name] = path


def named(kind: str, shelf: Shelf) -> Reader[str]:
    """A reader of the id of something of a kind that is on the shelf."""

    def read(node: Node, reading: Reading) -> str | None:
        name = word(node, reading)
        if name is None or name in shelf.of(kind):
            return name
        broken = shelf.broken.get(kind, {})
        if name in broken:
            message = f"{kind} {shown(name)} was left out, because {broken[name]} has mistakes"
            reading.report(node.place, "left-out", message)
            return None
        there = sorted(shelf.of(kind))
        message = f"there is no {kind} {shown(name)}{'' if there else '; there is none at all'}"
        hint = did_you_mean(name, there) or (f"There are: {', '.join(there[:12])}." if there else "")
        reading.report(node.place, "not-there", message, hint)
        return None

    return read
