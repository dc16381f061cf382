"""Names in one file that refer to another: of a feel, a tune, an intro."""

from __future__ import annotations

from introit.errors import did_you_mean
from introit.library.fields import Reader, word
from introit.library.nodes import Node
from introit.library.reading import Reading, shown
from introit.library.shelf import Shelf


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
