"""A rig's controls beside the foot-switch: a second switch, pads, an expression pedal, program changes."""

from __future__ import annotations

from collections.abc import Callable

from introit.errors import did_you_mean
from introit.library.fields import Fields, Reader, choice, flag, listing, whole
from introit.library.musical import note, note_name
from introit.library.nodes import Node, Sequence
from introit.library.reading import Place, Reading, shown
from introit.library.rig_controls import ACTIONS
from introit.library.rig_fields import ANY_NUMBER, MESSAGES, Names, none_for_any, or_any, port_among
from introit.library.stage import Rig, RigControl, RigFootSwitch
from introit.performance import PARTS

ORDERS = (
    "next", "back", "tune", "another intro", "faster", "slower", "tap tempo", "mute", "level", "first note",
    "sound check", "silence",
)  # fmt: skip
"""What a control can order; the README tells where each may be given."""
SONG_SELECT = "song select"
WITH_A_PART = ("mute", "level")
MUTES = {"muted": True, "heard": False}
_KEYS_OF = {
    "part": WITH_A_PART,
    "tune": ("tune",),
    "to": ("mute",),
    "low": ("level",),
    "high": ("level",),
}
"""Keys that only some orders have."""
_KEYS_OF_A_SWITCH = ("action", "on_at", "off_at")
_WHICH = {
    "control": "which controller? A control needs 'number', 0 to 127",
    "note": "which note? A control needs 'number', such as C2",
    "program": "which program? A control needs 'number', 1 to 128",
}
_UNSAID = -1


def controls_on(ports: Names) -> Reader[tuple[RigControl, ...]]:
    """A reader of a list of controls, on ports of these names."""

    def read(node: Node, reading: Reading) -> RigControl | None:
        before = len(reading.problems)
        fields = Fields(node, reading, what="a control")
        do = fields.required("do", choice(ORDERS), "")
        message = fields.optional("message", choice((*MESSAGES, SONG_SELECT)), "control")
        control = RigControl(
            do=do,
            port=fields.optional("port", port_among(ports), None),
            message=message,
            number=_number(fields, message),
            channel=none_for_any(fields.optional("channel", or_any(1, 16), ANY_NUMBER)),
            part=fields.optional("part", choice(PARTS), None),
            tune=fields.optional("tune", whole(1, 999), None),
            muted=MUTES.get(fields.optional("to", choice(MUTES), "")),
            action=fields.optional("action", choice(ACTIONS), "momentary"),
            inverted=fields.optional("inverted", flag, False),
            on_at=fields.optional("on_at", whole(1, 127), 72),
            off_at=fields.optional("off_at", whole(0, 126), 56),
            low=fields.optional("low", whole(0, 127), 0),
            high=fields.optional("high", whole(0, 127), 127),
        )
        fields.finish()
        if len(reading.problems) == before:
            _check_keys(fields, control, reading)
        return control if len(reading.problems) == before else None

    return listing(read)


def _number(fields: Fields, message: str) -> int | None:
    """The controller or note; a program as the player counts it (1 to 128) is counted from 0."""
    if message == "program":
        program = fields.optional("number", whole(1, 128), _UNSAID)
        return None if program == _UNSAID else program - 1
    number = fields.optional("number", note if message == "note" else whole(0, 127), _UNSAID)
    return None if number == _UNSAID else number


def _check_keys(fields: Fields, control: RigControl, reading: Reading) -> None:
    """The keys of a control go together."""
    do = control.do

    def report(key: str, message: str, code: str = "does-not-fit") -> None:
        reading.report(fields.place_of(key), code, message)

    for key, orders in _KEYS_OF.items():
        if fields.has(key) and do not in orders:
            report(key, f"{key!r} means nothing for {do!r}; only {' and '.join(orders)} can have it")
    if do in WITH_A_PART and control.part is None:
        report("do", f"{do!r} needs 'part': {', '.join(PARTS)}", "missing-key")
    if do == "level":
        _check_level(fields, control, report)
    elif control.off_at >= control.on_at:
        low, high = control.off_at, control.on_at
        report("off_at", f"off_at ({low}) must lie under on_at ({high}), or a half-way foot chatters")
    if control.message == SONG_SELECT:
        _check_song_select(fields, control, report)
    elif do == "tune":
        _check_tune(control, report)
    elif control.number is None:
        report("do", _WHICH[control.message], "missing-key")


Report = Callable[..., None]
"""Key of the control, message, and code where it is not `does-not-fit`."""


def _check_level(fields: Fields, control: RigControl, report: Report) -> None:
    if control.message != "control":
        report("message", f"a level follows a controller that moves; a {control.message} only says when")
    for key in _KEYS_OF_A_SWITCH:
        if fields.has(key):
            report(key, f"{key!r} is a switch's; a level follows every move")
    if control.low >= control.high:
        hint = "; for a pedal that works the other way round write `inverted: true`"
        report("low", f"low ({control.low}) must lie under high ({control.high}){hint}")


def _check_song_select(fields: Fields, control: RigControl, report: Report) -> None:
    if control.do != "tune":
        report("message", f"a song select tells which tune, so it can only be for 'tune', not {control.do!r}")
    for key in ("number", "tune", "channel"):
        if fields.has(key):
            message = "has no channel" if key == "channel" else "says itself which tune"
            report(key, f"a song select {message}; leave {key!r} out")


def _check_tune(control: RigControl, report: Report) -> None:
    if control.message == "program":
        if control.number is not None and control.tune is None:
            text = (
                "needs 'tune' too, which tune it is; without 'number', program 1 is the first tune, and so on"
            )
            report("number", f"one program for 'tune' {text}")
        elif control.number is None and control.tune is not None:
            report("tune", "which program is for this tune? It needs 'number', 1 to 128")
        return
    if control.number is None:
        report("do", _WHICH[control.message], "missing-key")
    if control.tune is None:
        text = "which tune, from 1; or `message: program`, which says it by its number"
        report("do", f"this one needs 'tune', {text}", "missing-key")


# --- the rig as a whole -----------------------------------------------------------------------------


def check_controls(fields: Fields, rig: Rig, reading: Reading) -> None:
    """A control's port listens, its part sounds, and no two things are told by one message."""
    places = _places(fields.raw("controls"))
    for index, (control, place) in enumerate(zip(rig.controls, places, strict=True)):

        def report(message: str, hint: str = "", *, place: Place = place) -> None:
            reading.report(place, "does-not-fit", message, hint)

        if (deaf := _deaf(control, rig)) is not None:
            report(deaf)
        if control.part is not None:
            _check_part(control.part, rig, report)
        foot, zone = rig.foot_switch, rig.key_zone
        if foot is not None and _alike(control, foot):
            line = fields.place_of("foot_switch").line
            report(f"{_named(control)} is the foot-switch's already (line {line})")
        if zone is not None and control.message == "note" and control.number is not None:
            in_zone = zone.low <= control.number <= zone.high and _meet(control.channel, zone.channel)
            if in_zone and _meet(control.port, zone.port):
                line = fields.place_of("key_zone").line
                report(f"{_named(control)} lies in the key zone (line {line}), where it names a key")
        for other, where in zip(rig.controls[:index], places, strict=False):
            if _alike(control, other) and not _go_together(control, other):
                report(f"{_named(control)} is that of {other.do!r} already (line {where.line})")


def _places(node: Node | None) -> list[Place]:
    if node is None:
        return []
    return [item.place for item in node.items] if isinstance(node, Sequence) else [node.place]


def _deaf(control: RigControl, rig: Rig) -> str | None:
    """Why the control would never be heard."""
    listening = [port.name for port in rig.ports if port.source is not None]
    if not listening:
        return "no port of the rig listens, so no control is heard; give one `from:` (a name, or any)"
    if control.port is None or control.port in listening:
        return None
    return f"the control's port {shown(control.port)} only sends; give it `from:` (a name, or any)"


def _check_part(name: str, rig: Rig, report: Report) -> None:
    there = [part.part for part in rig.parts]
    if name not in there:
        hint = did_you_mean(name, there)
        report(f"the rig has no part {name!r}; its parts are {', '.join(there)}", hint)


def _alike(control: RigControl, other: RigControl | RigFootSwitch) -> bool:
    """Whether one message can mean both."""
    return (
        control.message == other.message
        and _meet(control.number, other.number)
        and _meet(control.port, other.port)
        and _meet(control.channel, other.channel)
    )


def _meet(one: object, other: object) -> bool:
    """Whether two things that may each be any (None) can be the same."""
    return one is None or other is None or one == other


def _go_together(control: RigControl, other: RigControl) -> bool:
    """One pedal may set the levels of several parts, one switch mute them."""
    return control.do == other.do and control.do in WITH_A_PART and control.part != other.part


def _named(control: RigControl) -> str:
    """The message, as a mistake tells of it."""
    if control.number is None:
        return f"{control.message} without a number"
    if control.message == "note":
        return f"note {note_name(control.number)}"
    return f"program {control.number + 1}" if control.message == "program" else f"controller {control.number}"
