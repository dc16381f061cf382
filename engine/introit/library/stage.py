"""The stage as a rig file says it, checked and frozen: ports, parts, guitar, controls, lamps, clock."""

from __future__ import annotations

from dataclasses import dataclass

INSIDE = "fluidsynth"
"""The system of a port that is a synth in the program itself."""
OFFSET_MS = 500
"""Most by which a port can be lined up with others, earlier or later."""
USUAL_GAIN = 0.2


@dataclass(frozen=True, slots=True)
class RigCeiling:
    """What nothing may pass: velocities, 1 to 127, and channel volumes, 0 to 127."""

    velocity: int = 127
    level: int = 127

    def under(self, *others: RigCeiling) -> RigCeiling:
        """The lower of several, each way."""
        every = (self, *others)
        return RigCeiling(min(one.velocity for one in every), min(one.level for one in every))


NO_CEILING = RigCeiling()


@dataclass(frozen=True, slots=True)
class RigPort:
    """A connection as the rig file says it: system `auto`, or one in `rig_ports.SYSTEMS`.

    `to` and `source` are None where nothing is sent or heard, "" for any; see `live.setup.PortSetup`. `reset`
    is True to set controllers back on the channels in use before anything else is sent there. `offset_ms` is
    how much earlier it is sent everything, -500 to 500. The rest is a synth's inside: `soundfont` a path, ""
    for the first there is; `gain` 0 to 1; `audio` an audio driver, "" for the first that can be opened.
    """

    name: str
    system: str
    to: str | None
    source: str | None
    virtual: bool
    reset: bool = False
    offset_ms: int = 0
    soundfont: str = ""
    gain: float = USUAL_GAIN
    audio: str = ""
    ceiling: RigCeiling = NO_CEILING


BEATS, TWO_AND_FOUR = CLICK_SOUNDS = ("beats", "two and four")
"""A click on every beat; or hat and side stick on 2 and 4, as a band counts."""


@dataclass(frozen=True, slots=True)
class RigPart:
    """A part as the rig file says it. channel 1 to 16, program 1 to 128 or None, level 0 to 127 or None.

    `sound` is the click's, a word in `CLICK_SOUNDS`; None for the usual one, see `Rig.click_sound`.
    """

    part: str
    port: str
    channel: int
    program: int | None
    level: int | None
    muted: bool
    sound: str | None = None
    ceiling: RigCeiling = NO_CEILING


@dataclass(frozen=True, slots=True)
class RigFootSwitch:
    """The foot-switch as the rig file says it; channel 1 to 16 or None for any.

    `number` is 0 to 127 as on the wire, a program's too (its file counts programs from 1); None for any.
    """

    port: str | None
    message: str
    number: int | None
    channel: int | None
    action: str
    inverted: bool
    on_at: int
    off_at: int


@dataclass(frozen=True, slots=True)
class RigKeyZone:
    """The key zone as the rig file says it; notes as MIDI numbers, channel 1 to 16 or None for any."""

    port: str | None
    low: int
    high: int
    channel: int | None
    minor: str
    minor_from: int
    window_ms: int
    starts: bool


@dataclass(frozen=True, slots=True)
class RigClock:
    """MIDI clock as the rig file says it.

    Attributes:
        port: the one it goes out on; None when another's is followed.
        start: what it starts, `intro` or `head`.
        follow: the port that another's comes in on, or None.
    """

    port: str | None
    start: str = "intro"
    follow: str | None = None


@dataclass(frozen=True, slots=True)
class RigLamp:
    """A lamp of a foot-switch or pad as the rig file says it; channel 1 to 16.

    Attributes:
        when: a word in `rig_lamps.WHEN`.
        port: the one that its message goes out on.
        message: `control`, `note` or `program`.
        number: 0 to 127 as on the wire, a program's too (its file counts programs from 1).
        channel: 1 to 16.
        on, off: value, velocity or program (from 0) while lit and while not; None where nothing puts a lamp
            out that a program lights.
    """

    when: str
    port: str
    message: str
    number: int
    channel: int
    on: int
    off: int | None


@dataclass(frozen=True, slots=True)
class RigGuitar:
    """The guitar as the rig file says it.

    Attributes:
        tuning: MIDI notes of the open strings, lowest first; six or seven.
        capo: fret, 0 for none.
        highest_fret: counted from the nut.
        plucking: `fingers` or `pick`.
    """

    tuning: tuple[int, ...]
    capo: int
    highest_fret: int
    plucking: str


@dataclass(frozen=True, slots=True)
class RigControl:
    """What gives an order beside the foot-switch, as the rig file says it.

    Attributes:
        do: a word in `rig_orders.ORDERS`.
        port: the one that it is heard on; None for any that listens.
        message: `control`, `note`, `program` or `song select`.
        number: 0 to 127 as on the wire, a program's too (its file counts programs from 1); None where the
            message itself says which tune.
        channel: 1 to 16, or None for any.
        part: whose level it sets, or which it mutes; None for every other order.
        tune: which tune, from 1; None where the message says it, and for every other order.
        muted: what a mute does: True to mute, False to be heard again, None to change over.
        action, inverted, on_at, off_at: as of a foot-switch.
        low, high: what a level's control sends at its ends, 0 to 127.
    """

    do: str
    port: str | None = None
    message: str = "control"
    number: int | None = None
    channel: int | None = None
    part: str | None = None
    tune: int | None = None
    muted: bool | None = None
    action: str = "momentary"
    inverted: bool = False
    on_at: int = 72
    off_at: int = 56
    low: int = 0
    high: int = 127


NO_KEY = ""
"""In place of a tune's key, where none has been left for it."""


@dataclass(frozen=True, slots=True)
class RigKeys:
    """Computer keys by what they do, each by its name in `library.keys` or the character that it types.

    Attributes:
        press, hold: the foot's.
        next, back, another_intro, faster, slower, tap_tempo, first_note, sound_check, silence: orders.
        tune: one key a tune, in the set's order; `NO_KEY` for none.
        mute: by part.
        help, leave: the program's.
    """

    press: tuple[str, ...] = ("space", "page down", "enter", "right")
    hold: tuple[str, ...] = ("h",)
    next: tuple[str, ...] = ("n",)
    back: tuple[str, ...] = ("b", "left", "page up")
    tune: tuple[str, ...] = tuple("123456789")
    another_intro: tuple[str, ...] = ("i",)
    faster: tuple[str, ...] = ("+", "=", "up")
    slower: tuple[str, ...] = ("-", "down")
    tap_tempo: tuple[str, ...] = ("t",)
    mute: tuple[tuple[str, tuple[str, ...]], ...] = (
        ("melody", ("M",)),
        ("comp", ("C",)),
        ("bass", ("B",)),
        ("pedal", ("P",)),
        ("ride", ("R",)),
        ("click", ("K",)),
        ("cue", ("U",)),
    )
    first_note: tuple[str, ...] = ("f",)
    sound_check: tuple[str, ...] = ("s",)
    silence: tuple[str, ...] = ("x",)
    help: tuple[str, ...] = ("?",)
    leave: tuple[str, ...] = ("q",)


@dataclass(frozen=True, slots=True)
class Rig:
    """Ports, parts and controls of one stage. `line_up` is one by its word, or None; so is `guitar`.

    `keys` are those of the terminal that the evening is started in. `gentle_start` has its first sound come
    softly.
    """

    id: str
    name: str
    ports: tuple[RigPort, ...]
    parts: tuple[RigPart, ...]
    foot_switch: RigFootSwitch | None
    key_zone: RigKeyZone | None
    active_sensing: bool
    line_up: str | None = None
    guitar: RigGuitar | None = None
    keys: RigKeys = RigKeys()
    clock: RigClock | None = None
    lamps: tuple[RigLamp, ...] = ()
    controls: tuple[RigControl, ...] = ()
    ceiling: RigCeiling = NO_CEILING
    gentle_start: bool = True

    @property
    def click_sound(self) -> str:
        """The click's sound: its own word; else `beats` on a port of its own, and `two and four` in company.

        A port that only the cue shares is its own: nobody in the house hears either.
        """
        click = next((part for part in self.parts if part.part == "click"), None)
        if click is None:
            return BEATS
        heard_there = {part.part for part in self.parts if part.port == click.port and not part.muted}
        return click.sound or (TWO_AND_FOUR if heard_there - {"click", "cue"} else BEATS)
