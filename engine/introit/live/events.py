"""What the session hears and what it asks for. Plain values; times are the session clock's nanoseconds."""

from __future__ import annotations

from dataclasses import dataclass

from introit.live.cue import Cue
from introit.live.mix import Mix
from introit.performance import Performance

# --- heard ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Heard:
    """One complete MIDI message that came in.

    Attributes:
        port: index of the port in the setup.
        ns: when it arrived; at most the `now` it is heard with.
        data: the message's bytes, unchecked.
    """

    port: int
    ns: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Lost:
    """The system skipped a cycle: what was due on `port` within [start, end] may not have sounded."""

    port: int
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Gone:
    """The port is no longer there (unplugged, server stopped). Nothing can be sent to it any more."""

    port: int
    reason: str


@dataclass(frozen=True, slots=True)
class Back:
    """A port that was gone has been opened again."""

    port: int


@dataclass(frozen=True, slots=True)
class Unplugged:
    """What one end of a port was connected to is connected no more; the port itself is still there.

    Attributes:
        port: index of the port in the setup.
        name: full name of the other side.
        sends: True for a destination, False for a source.
        alone: True when that end is now connected to nothing.
        waited_for: True when the other side has gone and is connected again once it is back; False when it
            was only disconnected.
    """

    port: int
    name: str
    sends: bool
    alone: bool = True
    waited_for: bool = True


@dataclass(frozen=True, slots=True)
class Plugged:
    """One end of a port has been connected since the port was opened.

    Attributes:
        port: index of the port in the setup.
        name: full name of the other side.
        sends: True for a destination, False for a source.
        alone: True when that end was connected to nothing before.
    """

    port: int
    name: str
    sends: bool
    alone: bool = True


@dataclass(frozen=True, slots=True)
class Slept:
    """The machine was suspended and has woken up; by the session's clock no time has passed.

    Attributes:
        ns: for how many nanoseconds.
    """

    ns: int


@dataclass(frozen=True, slots=True)
class Flooded:
    """More came in on a port than could be kept: what `ports.incoming` left out. Told once.

    Attributes:
        port: index of the port in the setup.
        left_out: how many messages, so far.
    """

    port: int
    left_out: int


_FromPort = Heard | Lost | Gone | Back | Unplugged | Plugged
PortEvent = _FromPort | Flooded


@dataclass(frozen=True, slots=True)
class Request:
    """Which performance is wanted.

    Attributes:
        tune: index of the tune in the set, from 0.
        tonic: pitch class named by a key note; None for the tune's own key.
        minor: mode named with it; None for the tune's own mode.
        tempo: quarter notes a minute; None for the tempo that it was last wanted in.
        intro: which of the tune's intros, from 0, round and round; None for the one that it was last.
    """

    tune: int
    tonic: int | None = None
    minor: bool | None = None
    tempo: float | None = None
    intro: int | None = None


@dataclass(frozen=True, slots=True)
class Ready:
    """A performance has been arranged: the answer to `Wanted`, or one arranged ahead.

    Attributes:
        tune: index of the tune in the set.
        own: True for the tune's own key and mode.
        performance: what to play.
        intro: which of the tune's intros it is, as in `Request`.
    """

    tune: int
    own: bool
    performance: Performance
    intro: int = 0


@dataclass(frozen=True, slots=True)
class Refused:
    """A request that cannot be met; the session keeps what it had ready."""

    request: Request
    reason: str


@dataclass(frozen=True, slots=True)
class Quit:
    """Release everything and leave."""

    reason: str


@dataclass(frozen=True, slots=True)
class Played:
    """A message the front plays in place of a device: the demo's script, later a computer key as foot-switch.

    The loop turns it into a `Heard` of the moment at which it arrives.

    Attributes:
        port: index of the port it pretends to come from.
        data: one complete MIDI message.
    """

    port: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Ordered:
    """Something is ordered, by a control of the rig or a computer key.

    Attributes:
        order: a word of `states.Order`.
        part: index into `performance.PARTS`, for `mute` and `level`.
        value: the tune's index from 0 for `tune`; 0 to 127 for `level`; for `mute` 1 to mute, 0 to be heard
            again, -1 to change over.
    """

    order: str
    part: int = 0
    value: int = -1


@dataclass(frozen=True, slots=True)
class Reordered:
    """The set is played in another order now.

    Attributes:
        order: tunes by their index; one that stays keeps its own, a new one has a new one.
    """

    order: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Called:
    """A key or a tempo is called for by its name, as a key note and taps do by their own means.

    Attributes:
        tonic: pitch class of the tonic, 0 (C) to 11; None for no other key.
        minor: True for minor, False for major; None for the tune's own mode.
        tempo: quarter notes a minute; None for no other tempo.
    """

    tonic: int | None = None
    minor: bool | None = None
    tempo: float | None = None


@dataclass(frozen=True, slots=True)
class Following:
    """What begins by itself after a performance with a rest. Until it is told, that is played again.

    Attributes:
        performance: what to play; None where nothing follows.
        number: of the pass, from 1; one that is told again with its number replaces itself, and one whose
            number has begun already comes too late and is not taken.
    """

    performance: Performance | None
    number: int


@dataclass(frozen=True, slots=True)
class Taught:
    """A lesson's page asks for something.

    Attributes:
        ask: a word of `states.Ask`.
        first, last: bars from 1, for `loop`; 0 and 0 for all of them.
    """

    ask: str
    first: int = 0
    last: int = 0


FrontEvent = Ready | Refused | Quit | Played | Ordered | Reordered | Called | Following | Taught
Event = _FromPort | Ready | Refused | Quit | Ordered | Reordered | Called | Following | Taught | Slept

# --- asked for --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Hand:
    """Cues for one port, in order."""

    port: int
    cues: tuple[Cue, ...]


@dataclass(frozen=True, slots=True)
class Silence:
    """Withdraw all that can be, then an off for everything handed and not withdrawn, on every port."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """The front is asked to arrange.

    Attributes:
        request: what.
        afresh: True for the next playing of what has just been played, in the next intro of its rotation.
    """

    request: Request
    afresh: bool = False


@dataclass(frozen=True, slots=True)
class Shown:
    """Something for the screen.

    Attributes:
        ns: when it happens on the clock (beats are told when due, not ahead).
        state: the state's name, as in the state table.
        what: `state`, `beat`, `key`, `refused`, `port`, `lost` (a skipped cycle), `slept`
            (the machine was suspended), `note`, `mark` (a press while practising, when it fell), `step` (in a
            lesson) or `woke` (only while it measures: `text` is by how many nanoseconds too late).
        tune, title, intro, key: what is ready or playing; empty strings when nothing is.
        tonic, minor: the key that was called for, as in `Request`; None for the tune's own.
        tempo: quarter notes a minute.
        bar: bar of the intro from 1; 0 or less in the count-off.
        beat: beat of the bar from 1.
        beats_to_head: beats from this one to the head's downbeat.
        symbol, numeral: the present chord.
        text: a sentence for the player, such as why a key was refused.
        step: in a lesson, the index of the chord that the foot has stepped to; -1 while it does not step.
        first_bar, last_bar: of what goes round until the nod, from 1; 0 where nothing does.
        muted: the parts that are, a bit each, by their index in `performance.PARTS`.
        number: of the pass that is practised or would be, from 1; 0 where none is.
    """

    ns: int
    state: str
    what: str
    tune: int = 0
    title: str = ""
    intro: str = ""
    key: str = ""
    tempo: float = 0.0
    bar: int = 0
    beat: int = 0
    beats_to_head: int = 0
    symbol: str = ""
    numeral: str = ""
    text: str = ""
    tonic: int | None = None
    minor: bool | None = None
    step: int = -1
    first_bar: int = 0
    last_bar: int = 0
    muted: int = 0
    number: int = 0


@dataclass(frozen=True, slots=True)
class Sent:
    """One message that went out.

    Attributes:
        port: index of the port.
        ideal: when it was to sound.
        actual: when it did, as the port knows it.
        data: the message.
    """

    port: int
    ideal: int
    actual: int
    data: bytes


Effect = Hand | Silence | Wanted | Shown | Mix
