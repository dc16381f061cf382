"""A rig's lamps: what lights on a foot-switch or pad, and when."""

from __future__ import annotations

from introit.library.fields import Fields, Reader, choice, listing, whole
from introit.library.musical import note
from introit.library.nodes import Node, Sequence
from introit.library.reading import Place, Reading, shown
from introit.library.rig_fields import MESSAGES, Names, port_among
from introit.library.stage import Rig, RigLamp

WHEN = ("ready", "counting off", "playing", "last bar", "in the tune")
"""What a lamp can tell. `playing` lasts from the intro's first downbeat to the head, however it is led."""
LAST_CONTROLLER = 119
"""From 120 up, controllers are channel mode messages, such as All Notes Off (MIDI 1.0)."""
_NO_PROGRAM = 0


def lamps_on(ports: Names) -> Reader[tuple[RigLamp, ...]]:
    """A reader of a list of lamps, on ports of these names."""

    def read(node: Node, reading: Reading) -> RigLamp | None:
        before = len(reading.problems)
        fields = Fields(node, reading, what="a lamp")
        message = fields.required("message", choice(MESSAGES), "control")
        when = fields.required("when", choice(WHEN), "")
        port = fields.required("port", port_among(ports), "")
        number = _number(fields, message)
        channel = fields.optional("channel", whole(1, 16), 1)
        on, off = _values(fields, message, number)
        fields.finish()
        if len(reading.problems) == before and on == off:
            text = "a lamp that is sent the same lit and out cannot tell anything"
            reading.report(fields.place_of("off"), "does-not-fit", text)
        if len(reading.problems) > before:
            return None
        return RigLamp(when, port, message, number, channel, on, off)

    return listing(read)


def _number(fields: Fields, message: str) -> int:
    """The controller or note; a program as the player counts it (1 to 128) is counted from 0."""
    if message == "program":
        return fields.required("number", whole(1, 128), 1) - 1
    if message == "note":
        return fields.required("number", note, 0)
    return fields.required("number", whole(0, LAST_CONTROLLER), 0)


def _values(fields: Fields, message: str, number: int) -> tuple[int, int | None]:
    """What is sent while the lamp is lit, and while it is not."""
    if message == "program":
        off = fields.optional("off", whole(1, 128), _NO_PROGRAM)
        return number, None if off == _NO_PROGRAM else off - 1
    # A note-on with velocity 0 is a note-off.
    on = fields.optional("on", whole(1 if message == "note" else 0, 127), 127)
    return on, fields.optional("off", whole(0, 127), 0)


def check_lamps(fields: Fields, rig: Rig, reading: Reading) -> None:
    """A lamp's port sends, no part is on its channel, and no two lamps want the same light at one time."""
    sending = {port.name for port in rig.ports if port.to is not None}
    parts = {(part.port, part.channel): part.part for part in rig.parts}
    first: set[tuple[object, ...]] = set()
    for lamp, place in zip(rig.lamps, _places(fields.raw("lamps")), strict=True):
        if lamp.port not in sending:
            text = f"the lamps' port {shown(lamp.port)} only listens; give it `to:` (a name, or any)"
            _report(text, place, reading)
        if (part := parts.get((lamp.port, lamp.channel))) is not None:
            text = f"a lamp is on channel {lamp.channel} of {shown(lamp.port)}, where {part!r} would sound it"
            _report(text, place, reading)
        own = (lamp.when, lamp.port, lamp.channel, *_light(lamp))
        if own in first:
            text = f"two lamps tell {shown(lamp.when)} by the same {lamp.message}; one is enough"
            _report(text, place, reading)
        first.add(own)


def _places(node: Node | None) -> list[Place]:
    if node is None:
        return []
    return [item.place for item in node.items] if isinstance(node, Sequence) else [node.place]


def _light(lamp: RigLamp) -> tuple[str, int]:
    """What of a channel the lamp is: a program change selects one thing for all of it."""
    return lamp.message, 0 if lamp.message == "program" else lamp.number


def _report(text: str, place: Place, reading: Reading) -> None:
    reading.report(place, "does-not-fit", text)
