"""Readers of single values that several blocks of a rig file share: its ports by name, numbers or `any`."""

from __future__ import annotations

from collections.abc import Sequence

from introit.errors import did_you_mean
from introit.library.fields import Fields, Reader, whole, word
from introit.library.musical import note
from introit.library.nodes import Node, Scalar
from introit.library.reading import Reading, shown
from introit.library.stage import NO_CEILING, RigCeiling

ANY = "any"
ANY_NUMBER = -1
"""What a reader gives for `any`, since None tells of a mistake."""
MESSAGES = ("control", "note", "program")
Names = Sequence[str]
"""The rig's ports, by name."""


def port_among(ports: Names) -> Reader[str]:
    """A reader of one of the rig's ports."""

    def read(node: Node, reading: Reading) -> str | None:
        name = word(node, reading)
        if name is None or name in ports:
            return name
        message = f"the rig has no port {shown(name)}; its ports are {', '.join(ports) or 'none'}"
        reading.report(node.place, "not-there", message, did_you_mean(name, ports))
        return None

    return read


def ceiling_in(fields: Fields) -> RigCeiling:
    """What a block of the rig, or the rig itself, says that nothing may pass."""
    return RigCeiling(
        velocity=fields.optional("velocity_at_most", whole(1, 127), NO_CEILING.velocity),
        level=fields.optional("level_at_most", whole(0, 127), NO_CEILING.level),
    )


def or_any(low: int, high: int) -> Reader[int]:
    """A reader of a whole number or the word `any`, which is read as `ANY_NUMBER`."""
    one = whole(low, high, unit="or any")

    def read(node: Node, reading: Reading) -> int | None:
        return ANY_NUMBER if _is_any(node) else one(node, reading)

    return read


def note_or_any(node: Node, reading: Reading) -> int | None:
    """A note, or the word `any`, which is read as `ANY_NUMBER`."""
    return ANY_NUMBER if _is_any(node) else note(node, reading)


def _is_any(node: Node) -> bool:
    return isinstance(node, Scalar) and node.text == ANY


def none_for_any(value: int) -> int | None:
    """None in place of `ANY_NUMBER`."""
    return None if value == ANY_NUMBER else value
