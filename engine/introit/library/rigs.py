"""Rig files: the ports, parts and controls of one stage."""

from __future__ import annotations

from collections.abc import Sequence

from introit.errors import did_you_mean
from introit.library.fields import Fields, Reader, choice, flag, report_repeated, whole, word
from introit.library.guitar import read_guitar
from introit.library.intros import LINE_UPS
from introit.library.keys import read_keys
from introit.library.musical import note
from introit.library.nodes import Mapping, Node, Scalar
from introit.library.reading import Reading, shown
from introit.library.shelf import Shelf
from introit.library.stage import Rig, RigClock, RigFootSwitch, RigKeys, RigKeyZone, RigPart, RigPort
from introit.performance import PARTS

SYSTEMS = ("auto", "jack", "rtmidi", "memory")
MESSAGES = ("control", "note", "program")
ACTIONS = ("momentary", "latching", "press-only")
CLOCK_STARTS = ("intro", "head")
MINOR_BY = ("tune", "third", "half")
ANY = "any"
_ANY_NUMBER = -1
DAMPER = 64
"""The controller that most foot-switches send (MIDI 1.0: damper pedal)."""

_Names = Sequence[str]


def read_rig(name: str, node: Node | None, reading: Reading, shelf: Shelf) -> Rig | None:
    """The rig that a file describes, or None with its mistakes in `reading`."""
    fields = Fields(node, reading, what="a rig")
    fields.optional("kind", word, "")
    ports: tuple[RigPort, ...] = fields.required("ports", _ports, ())
    names = _names_under(fields.raw("ports"))
    rig = Rig(
        id=name,
        name=fields.required("name", word, ""),
        ports=ports,
        parts=fields.required("parts", _parts_on(names), ()),
        foot_switch=fields.optional("foot_switch", _foot_switch_on(names), None),
        key_zone=fields.optional("key_zone", _key_zone_on(names), None),
        active_sensing=fields.optional("active_sensing", flag, True),
        line_up=fields.optional("line_up", choice(LINE_UPS), None),
        guitar=fields.optional("guitar", read_guitar, None),
        keys=fields.optional("keys", read_keys, RigKeys()),
        clock=fields.optional("clock", _clock_on(names), None),
    )
    fields.finish()
    if reading.clean:
        _check_together(fields, rig, reading)
        _check_clock(fields, rig, reading)
    return rig if reading.clean else None


def _names_under(node: Node | None) -> _Names:
    return [name.text for name, _ in node.entries] if isinstance(node, Mapping) else []


def _ports(node: Node, reading: Reading) -> tuple[RigPort, ...] | None:
    if not isinstance(node, Mapping) or not node.entries:
        reading.report(
            node.place, "wrong-type", "at least one port is needed, by a name of your own: `main:`"
        )
        return None
    report_repeated(node, reading)
    return tuple(_port(name.text, value, reading) for name, value in node.entries)


def _port(name: str, node: Node, reading: Reading) -> RigPort:
    fields = Fields(node, reading, what=f"port {shown(name)}")
    port = RigPort(
        name=name,
        system=fields.optional("system", choice(SYSTEMS), "auto"),
        to=_any_as_empty(fields.optional("to", word, None)),
        source=_any_as_empty(fields.optional("from", word, None)),
        virtual=fields.optional("virtual", flag, False),
    )
    fields.finish()
    if fields.is_mapping and reading.clean and port.to is None and port.source is None:
        message = (
            f"port {shown(name)} neither sends nor listens; give it `to:`, `from:` or both (a name, or any)"
        )
        reading.report(fields.place, "missing-key", message)
    return port


def _any_as_empty(name: str | None) -> str | None:
    return "" if name == ANY else name


def _parts_on(ports: _Names) -> Reader[tuple[RigPart, ...]]:
    def read(node: Node, reading: Reading) -> tuple[RigPart, ...] | None:
        fields = Fields(node, reading, what="parts")
        parts = [fields.optional(part, _part_on(ports, part), None) for part in PARTS]
        fields.finish()
        there = tuple(part for part in parts if part is not None)
        if fields.is_mapping and reading.clean and not there:
            reading.report(node.place, "missing-key", f"at least one part is needed: {', '.join(PARTS)}")
        return there

    return read


def _part_on(ports: _Names, part: str) -> Reader[RigPart]:
    def read(node: Node, reading: Reading) -> RigPart | None:
        fields = Fields(node, reading, what=f"part {part!r}")
        made = RigPart(
            part=part,
            port=fields.required("port", _port_among(ports), ""),
            channel=fields.required("channel", whole(1, 16), 1),
            program=fields.optional("program", whole(1, 128), None),
            level=fields.optional("level", whole(0, 127), None),
            muted=fields.optional("muted", flag, False),
        )
        fields.finish()
        return made

    return read


def _foot_switch_on(ports: _Names) -> Reader[RigFootSwitch]:
    def read(node: Node, reading: Reading) -> RigFootSwitch | None:
        fields = Fields(node, reading, what="a foot-switch")
        message = fields.optional("message", choice(MESSAGES), "control")
        switch = RigFootSwitch(
            port=fields.optional("port", _port_among(ports), None),
            message=message,
            number=_foot_number(fields, message),
            channel=_none_for_any(fields.optional("channel", _or_any(1, 16), _ANY_NUMBER)),
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
        program = _none_for_any(fields.optional("number", _or_any(1, 128), _ANY_NUMBER))
        return None if program is None else program - 1
    if message == "note":
        return _none_for_any(fields.optional("number", _note_or_any, _ANY_NUMBER))
    return _none_for_any(fields.optional("number", _or_any(0, 127), DAMPER))


def _key_zone_on(ports: _Names) -> Reader[RigKeyZone]:
    def read(node: Node, reading: Reading) -> RigKeyZone | None:
        fields = Fields(node, reading, what="a key zone")
        low, high = fields.optional("low", note, 24), fields.optional("high", note, 47)
        zone = RigKeyZone(
            port=fields.optional("port", _port_among(ports), None),
            low=low,
            high=high,
            channel=_none_for_any(fields.optional("channel", _or_any(1, 16), _ANY_NUMBER)),
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


def _clock_on(ports: _Names) -> Reader[RigClock]:
    def read(node: Node, reading: Reading) -> RigClock | None:
        fields = Fields(node, reading, what="a clock")
        clock = RigClock(
            port=fields.optional("port", _port_among(ports), None),
            start=fields.optional("start", choice(CLOCK_STARTS), "intro"),
            follow=fields.optional("follow", _port_among(ports), None),
        )
        fields.finish()
        if fields.is_mapping and reading.clean and (clock.port is None) == (clock.follow is None):
            message = "a clock needs `port:` to lead others, or `follow:` to follow one, and not both"
            reading.report(fields.place, "missing-key", message)
        return clock

    return read


def _check_clock(fields: Fields, rig: Rig, reading: Reading) -> None:
    """A clock that leads goes out, one that is followed comes in."""
    if rig.clock is None:
        return
    ports = {port.name: port for port in rig.ports}
    leads, follows = ports.get(rig.clock.port or ""), ports.get(rig.clock.follow or "")
    message = ""
    if leads is not None and leads.to is None:
        message = f"the clock's port {shown(leads.name)} only listens; give it `to:` (a name, or any)"
    elif follows is not None and follows.source is None:
        message = f"the clock's port {shown(follows.name)} only sends; give it `from:` (a name, or any)"
    if message:
        reading.report(fields.place_of("clock"), "does-not-fit", message)


def _port_among(ports: _Names) -> Reader[str]:
    def read(node: Node, reading: Reading) -> str | None:
        name = word(node, reading)
        if name is None or name in ports:
            return name
        message = f"the rig has no port {shown(name)}; its ports are {', '.join(ports) or 'none'}"
        reading.report(node.place, "not-there", message, did_you_mean(name, ports))
        return None

    return read


def _or_any(low: int, high: int) -> Reader[int]:
    """A reader of a whole number or the word `any`, which is read as `_ANY_NUMBER`."""
    one = whole(low, high, unit="or any")

    def read(node: Node, reading: Reading) -> int | None:
        return _ANY_NUMBER if _is_any(node) else one(node, reading)

    return read


def _note_or_any(node: Node, reading: Reading) -> int | None:
    return _ANY_NUMBER if _is_any(node) else note(node, reading)


def _is_any(node: Node) -> bool:
    return isinstance(node, Scalar) and node.text == ANY


def _none_for_any(value: int) -> int | None:
    return None if value == _ANY_NUMBER else value


def _check_together(fields: Fields, rig: Rig, reading: Reading) -> None:
    """Two parts on one channel cannot have two sounds."""
    programs: dict[tuple[str, int], RigPart] = {}
    for part in rig.parts:
        first = programs.setdefault((part.port, part.channel), part)
        if None not in (part.program, first.program) and part.program != first.program:
            message = (
                f"parts {first.part!r} and {part.part!r} share channel {part.channel} but not the program"
            )
            reading.report(fields.place_of("parts"), "does-not-fit", message)
