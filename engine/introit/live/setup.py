"""What the player must know before the first note: ports, routes, controls, lamps; JSON both ways.

The front makes it from a checked rig file, so nothing here is validated again.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import Any

from introit.live.messages import DATA_MAX
from introit.live.mix import Mix


@dataclass(frozen=True, slots=True)
class PortSetup:
    """One connection.

    Attributes:
        name: as the rig calls it.
        system: one of `finder.SYSTEMS` (chosen already; never `auto`).
        to: name, or part of a name, of the destination; None when nothing is sent, "" for any or none yet.
        source: the same for where it listens; None when it does not.
        virtual: True to offer a port of our own instead of connecting to one.
        timing: True to hear MIDI clock there.
        offset_ns: nanoseconds by which everything is sent earlier than the others', or later where negative.
        soundfont: path of a synth's inside; "" for the first there is.
        gain: a synth's inside, 0 to 1.
        audio: the audio driver of a synth's inside; "" for the first that can be opened.
    """

    name: str
    system: str
    to: str | None = None
    source: str | None = None
    virtual: bool = False
    timing: bool = False
    offset_ns: int = 0
    soundfont: str = ""
    gain: float = 0.2
    audio: str = ""


@dataclass(frozen=True, slots=True)
class Route:
    """Where a part goes.

    Attributes:
        part: index into `performance.PARTS`.
        port: index into `Setup.ports`.
        channel: 0 to 15 (the wire's numbering).
        program: 0 to 127 (the wire's numbering), or None to leave the synth as it is.
        level: channel volume (controller 7) 0 to 127, or None to leave it.
        muted: True to send nothing, unless an order brings the part in.
        reset: True to set the channel's controllers back before anything is sent to it.
        velocity_at_most, level_at_most: no note-on and no channel volume beyond; see `ceiling.Ceiling`.
    """

    part: int
    port: int
    channel: int
    program: int | None = None
    level: int | None = None
    muted: bool = False
    reset: bool = False
    velocity_at_most: int = DATA_MAX
    level_at_most: int = DATA_MAX


@dataclass(frozen=True, slots=True)
class FootSwitch:
    """How the foot-switch speaks.

    Attributes:
        port: index into `Setup.ports`; None for any port that listens.
        message: `control`, `note` or `program`.
        number: controller, note or program number, 0 to 127; None for any.
        channel: 0 to 15; None for any.
        action: `momentary` (down and up are told), `latching` (each change is a press) or `press-only`
            (only a press is told). The last two cannot be held: a double press does what a hold does.
        inverted: True when the switch sends its low value while pressed.
        on_at, off_at: value at or above which it is down, at or below which it is up (hysteresis).
        bounce_ms: changes within so many milliseconds of the last one are the switch bouncing.
    """

    port: int | None = None
    message: str = "control"
    number: int | None = 64
    channel: int | None = None
    action: str = "momentary"
    inverted: bool = False
    on_at: int = 72
    off_at: int = 56
    bounce_ms: int = 30


@dataclass(frozen=True, slots=True)
class KeyZone:
    """Notes that name the key.

    Attributes:
        port: index into `Setup.ports`; None for any port that listens.
        low, high: MIDI notes, inclusive.
        channel: 0 to 15; None for any.
        minor: `tune` (the tune's own mode), `third` (minor when the minor third follows within the window) or
            `half` (notes from `minor_from` up are minor).
        minor_from: first note of the minor half.
        window_ms: how long a minor third is waited for.
        starts: True when naming the key also starts the intro.
    """

    port: int | None = None
    low: int = 24
    high: int = 47
    channel: int | None = None
    minor: str = "third"
    minor_from: int = 36
    window_ms: int = 250
    starts: bool = False


@dataclass(frozen=True, slots=True)
class Control:
    """What gives an order beside the foot-switch.

    Attributes:
        order: a word of `states.Order`.
        port: index into `Setup.ports`; None for any port that listens.
        message: `control`, `note`, `program` or `song select`.
        number: controller, note or program number, 0 to 127; None where a program or a song says which tune.
        channel: 0 to 15; None for any.
        part: index into `performance.PARTS`, for `mute` and `level`.
        value: see `events.Ordered`; a level is the control's own value.
        action, inverted, on_at, off_at: as in `FootSwitch`.
        low, high: what a level's control sends at its ends; between them 0 to 127 are set.
    """

    order: str
    port: int | None = None
    message: str = "control"
    number: int | None = None
    channel: int | None = None
    part: int = 0
    value: int = -1
    action: str = "momentary"
    inverted: bool = False
    on_at: int = 72
    off_at: int = 56
    low: int = 0
    high: int = DATA_MAX


@dataclass(frozen=True, slots=True)
class ClockLead:
    """MIDI clock that others play by.

    Attributes:
        port: index into `Setup.ports`.
        start: what begins with Start: `intro` or `head`.
    """

    port: int
    start: str = "intro"


@dataclass(frozen=True, slots=True)
class Lamp:
    """A lamp of a foot-switch or pad.

    Attributes:
        when: what it tells: a word in `lamps.WHEN`.
        port: index into `Setup.ports`.
        message: `control`, `note` or `program`.
        number: controller or note, 0 to 127; with `program` the same as `on`.
        channel: 0 to 15.
        on, off: value, velocity or program, 0 to 127, while lit and while not; `off` is None where nothing
            puts out what a program lights.
    """

    when: str
    port: int
    message: str
    number: int
    channel: int = 0
    on: int = 127
    off: int | None = 0


@dataclass(frozen=True, slots=True)
class Setup:
    """All that the player needs beside performances.

    Attributes:
        ports: connections, in the order that routes, foot-switch and key zone count them by.
        routes: where each part goes.
        tunes: how many tunes the set has.
        foot_switch, key_zone: the first of the controls; None for none.
        controls: the others.
        lead: where MIDI clock goes out; None for nowhere.
        follow: index into `ports` of the one whose clock is followed; None for our own time.
        lamps: what lights, and when.
        active_sensing: True to send Active Sensing while a port is open.
        gentle_start: True to have the evening's first sound come softly; see `rise.Rise`.
        log: True to tell the front each message heard and sent.
        practice: True to have the same tune ready again by itself, a bar after each landing.
        measure_ns: for how long the player measures instead of playing (see `probe`); 0 to play.
        first_tune: index of the tune that is readied first (a player that replaces a dead one goes on there).
        mix: what orders have made of the rig's mix before; None for nothing (see `mix.Mix`).
        first_tonic, first_minor: the key it is readied in, as in `events.Request`; None for the tune's own.
    """

    ports: tuple[PortSetup, ...]
    routes: tuple[Route, ...]
    tunes: int
    foot_switch: FootSwitch | None = FootSwitch()
    key_zone: KeyZone | None = None
    controls: tuple[Control, ...] = ()
    lead: ClockLead | None = None
    follow: int | None = None
    lamps: tuple[Lamp, ...] = ()
    active_sensing: bool = True
    gentle_start: bool = False
    log: bool = False
    practice: bool = False
    measure_ns: int = 0
    first_tune: int = 0
    first_tonic: int | None = None
    first_minor: bool | None = None
    mix: Mix | None = None

    def to_json(self) -> str:
        """Text that `from_json` reads back equal."""
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> Setup:
        """Reads what `to_json` wrote."""
        raw: dict[str, Any] = json.loads(text)
        return cls(
            ports=tuple(PortSetup(**port) for port in raw.pop("ports")),
            routes=tuple(Route(**route) for route in raw.pop("routes")),
            foot_switch=FootSwitch(**foot) if (foot := raw.pop("foot_switch")) else None,
            key_zone=KeyZone(**zone) if (zone := raw.pop("key_zone")) else None,
            controls=tuple(Control(**control) for control in raw.pop("controls")),
            lead=ClockLead(**lead) if (lead := raw.pop("lead")) else None,
            lamps=tuple(Lamp(**lamp) for lamp in raw.pop("lamps")),
            mix=Mix.from_json(mix) if (mix := raw.pop("mix")) else None,
            **raw,
        )
