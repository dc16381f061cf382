"""A rig's parts: which port, channel and sound each has."""

from __future__ import annotations

from introit.library.fields import Fields, Reader, choice, flag, whole
from introit.library.nodes import Node
from introit.library.reading import Reading
from introit.library.rig_fields import Names, ceiling_in, port_among
from introit.library.stage import CLICK_SOUNDS, Rig, RigPart
from introit.performance import PARTS

CUE = "cue"


def parts_on(ports: Names) -> Reader[tuple[RigPart, ...]]:
    """A reader of the parts, on ports of these names."""

    def read(node: Node, reading: Reading) -> tuple[RigPart, ...] | None:
        fields = Fields(node, reading, what="parts")
        parts = [fields.optional(part, _part_on(ports, part), None) for part in PARTS]
        fields.finish()
        there = tuple(part for part in parts if part is not None)
        if fields.is_mapping and reading.clean and not there:
            reading.report(node.place, "missing-key", f"at least one part is needed: {', '.join(PARTS)}")
        return there

    return read


def _part_on(ports: Names, part: str) -> Reader[RigPart]:
    def read(node: Node, reading: Reading) -> RigPart | None:
        fields = Fields(node, reading, what=f"part {part!r}")
        made = RigPart(
            part=part,
            port=fields.required("port", port_among(ports), ""),
            channel=fields.required("channel", whole(1, 16), 1),
            program=fields.optional("program", whole(1, 128), None),
            level=fields.optional("level", whole(0, 127), None),
            muted=fields.optional("muted", flag, False),
            sound=fields.optional("sound", choice(CLICK_SOUNDS), None) if part == "click" else None,
            ceiling=ceiling_in(fields),
        )
        fields.finish()
        return made

    return read


def check_parts(fields: Fields, rig: Rig, reading: Reading) -> None:
    """Two parts on one channel cannot have two sounds, and the cue ends notes of its own alone."""
    programs: dict[tuple[str, int], RigPart] = {}
    for part in rig.parts:
        first = programs.setdefault((part.port, part.channel), part)
        if part is not first and part.part == CUE:
            message = f"the cue needs a channel of its own; channel {part.channel} has {first.part!r}"
            reading.report(fields.place_of("parts"), "does-not-fit", message)
            continue
        both = f"parts {first.part!r} and {part.part!r} share channel {part.channel} but not"
        if None not in (part.program, first.program) and part.program != first.program:
            reading.report(fields.place_of("parts"), "does-not-fit", f"{both} the program")
        if part.ceiling != first.ceiling:
            reading.report(fields.place_of("parts"), "does-not-fit", f"{both} what they are at most")
