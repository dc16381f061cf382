"""The key `sounds` of a tune: which parts sound otherwise in it than in the rig."""

from __future__ import annotations

from introit.library.fields import Fields, Reader, whole
from introit.library.nodes import Mapping, Node, Scalar
from introit.library.reading import Reading
from introit.library.tune import PartSound
from introit.performance import PARTS

MOST_PROGRAM = 128
_HOW = "a program from 1 to 128, or `program:` and `level:`"


def sounds(node: Node, reading: Reading) -> tuple[PartSound, ...] | None:
    """Parts, each with a program (General MIDI counts them from 1), or with `program:` and `level:`."""
    fields = Fields(node, reading, what="the sounds of a tune")
    found = [fields.optional(part, _sound_of(part), None) for part in PARTS]
    fields.finish()
    return tuple(sound for sound in found if sound is not None)


def _sound_of(part: str) -> Reader[PartSound]:
    def read(node: Node, reading: Reading) -> PartSound | None:
        if isinstance(node, Scalar):
            program = whole(1, MOST_PROGRAM)(node, reading)
            return None if program is None else PartSound(part, program)
        if not isinstance(node, Mapping):
            reading.report(node.place, "wrong-type", f"part {part!r} takes {_HOW}")
            return None
        fields = Fields(node, reading, what=f"the sound of part {part!r}")
        sound = PartSound(
            part,
            program=fields.optional("program", whole(1, MOST_PROGRAM), None),
            level=fields.optional("level", whole(0, 127), None),
        )
        fields.finish()
        return sound

    return read
