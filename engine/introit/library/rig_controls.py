"""A rig's controls: what the foot-switch sends, and which notes name the key."""

from __future__ import annotations

from introit.library.fields import Fields, Reader, choice, flag, whole
from introit.library.musical import note
from introit.library.nodes import Node
from introit.library.reading import Reading
from introit.library.rig_fields import (
    ANY_NUMBER,
    MESSAGES,
    Names,
    none_for_any,
    note_or_any,
    or_any,
    port_among,
)
from introit.library.stage import RigFootSwitch, RigKeyZone

ACTIONS = ("momentary", "latching", "press-only")
MINOR_BY = ("tune", "third", "half")
DAMPER = 64
"""The controller that most foot-switches send (MIDI 1.0: damper pedal)."""


def foot_switch_on(ports: Names) -> Reader[RigFootSwitch]:
    """A reader of the foot-switch, on ports of these names."""

    def read(node: Node, reading: Reading) -> RigFootSwitch | None:
        fields = Fields(node, reading, what="a foot-switch")
        message = fields.optional("message", choice(MESSAGES), "control")
        switch = RigFootSwitch(
            port=fields.optional("port", port_among(ports), None),
            message=message,
            number=_foot_number(fields, message),
            channel=none_for_any(fields.optional("channel", or_any(1, 16), ANY_NUMBER)),
            action=fields.optional("action", choice(ACTIONS), "momentary"),
            inverted=fields.optional("inverted", flag, False),
            on_at=fields.optional("on_at", whole(1, 127), 72),
            off_at=fields.optional("off_at", whole(0, 126), 56),
        )
        fields.finish()
        if switch.off_at >= switch.on_at:
            text = (
                f"off_at ({switch.off_at}) must lie under on_at ({switch.on_at}), or a half-way foot chatters"
            )
            reading.report(fields.place_of("off_at"), "out-of-range", text)
        return switch

    return read


def _foot_number(fields: Fields, message: str) -> int | None:
    """The controller or note (0 to 127); a program as the player counts it (1 to 128) is counted from 0."""
    if message == "program":
        program = none_for_any(fields.optional("number", or_any(1, 128), ANY_NUMBER))
        return None if program is None else program - 1
    if message == "note":
        return none_for_any(fields.optional("number", note_or_any, ANY_NUMBER))
    return none_for_any(fields.optional("number", or_any(0, 127), DAMPER))


def key_zone_on(ports: Names) -> Reader[RigKeyZone]:
    """A reader of the key zone, on ports of these names."""

    def read(node: Node, reading: Reading) -> RigKeyZone | None:
        fields = Fields(node, reading, what="a key zone")
        low, high = fields.optional("low", note, 24), fields.optional("high", note, 47)
        zone = RigKeyZone(
            port=fields.optional("port", port_among(ports), None),
            low=low,
            high=high,
            channel=none_for_any(fields.optional("channel", or_any(1, 16), ANY_NUMBER)),
            minor=fields.optional("minor", choice(MINOR_BY), "third"),
            minor_from=fields.optional("minor_from", note, (low + high + 1) // 2),
            window_ms=fields.optional("window_ms", whole(50, 2000, unit="ms"), 250),
            starts=fields.optional("starts", flag, False),
        )
        fields.finish()
        _check_zone(fields, zone, reading)
        return zone

    return read


def _check_zone(fields: Fields, zone: RigKeyZone, reading: Reading) -> None:
    if zone.low > zone.high:
        message = f"the zone's lowest note ({zone.low}) lies above its highest ({zone.high})"
        reading.report(fields.place_of("low"), "out-of-range", message)
    elif not zone.low <= zone.minor_from <= zone.high:
        message = f"minor_from ({zone.minor_from}) lies outside the zone, {zone.low} to {zone.high}"
        reading.report(fields.place_of("minor_from"), "out-of-range", message)
