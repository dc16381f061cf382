"""What kind of switch it is that was pressed once and then held: judged from what was heard. Pure.

What stands out is what came both times and not while all were still. A switch may bounce, rest high, tell
half-way positions, tell nothing when let go, or send several messages at once; a device beside it may talk.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from introit.live.events import Heard
from introit.live.messages import DATA_MAX, ChannelMessage, Kind, parse
from introit.live.setup import FootSwitch
from introit.units import NS_PER_MS, NS_PER_SECOND

BOUNCE_NS = 50 * NS_PER_MS
"""Changes closer together are one move of the foot: contacts bounce for up to some 30 ms (no source)."""
TRIGGER_NS = 150 * NS_PER_MS
"""Down and up so close together, of a foot that stayed down, is a switch that sends both at once."""
HELD_NS = NS_PER_SECOND
"""So long at least lies between down and up of a switch that was held for about two seconds."""
_STILL_NS = 500 * NS_PER_MS
_PRESS_NS = NS_PER_SECOND
_LONGEST_NS = 4 * NS_PER_SECOND
_MODE_MESSAGES_FROM = 120
"""Controllers 120 to 127 are channel mode messages (MIDI 1.0)."""
_BANK_SELECT = (0, 32)
"""Controllers that go before a program change (MIDI 1.0)."""
LEAST_TRAVEL = 32
_USUAL = FootSwitch()


class Voice(NamedTuple):
    """One thing that a device can say: a controller, a note, or program changes on a channel (from 0)."""

    port: int
    channel: int
    message: str
    number: int | None


class _Point(NamedTuple):
    ns: int
    value: int


class _Step(NamedTuple):
    """Points that belong to one move of the foot."""

    ns: int
    values: tuple[int, ...]

    @property
    def rests(self) -> int:
        return self.values[-1]


class Doubt(NamedTuple):
    """Why nothing can be said; to be tried once more."""

    reason: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was found.

    Attributes:
        switch: how it speaks; its port is that of the messages.
        halfway: True when it tells positions between up and down.
    """

    switch: FootSwitch
    halfway: bool = False


def voices(heard: Iterable[Heard]) -> dict[Voice, list[_Point]]:
    """What each voice said, in order; clock, sensing, bends and pressures are none of a switch's."""
    found: dict[Voice, list[_Point]] = {}
    for event in heard:
        message = parse(event.data)
        if isinstance(message, ChannelMessage) and (voice := _voice(event.port, message)) is not None:
            found.setdefault(voice, []).append(_Point(event.ns, _value(message)))
    programs = {(voice.port, voice.channel) for voice in found if voice.message == "program"}
    return {
        voice: points
        for voice, points in found.items()
        if not (
            voice.message == "control"
            and voice.number in _BANK_SELECT
            and (voice.port, voice.channel) in programs
        )
    }


def _voice(port: int, message: ChannelMessage) -> Voice | None:
    if message.kind is Kind.CONTROL:
        mode = message.first >= _MODE_MESSAGES_FROM
        return None if mode else Voice(port, message.channel, "control", message.first)
    if message.kind in (Kind.NOTE_ON, Kind.NOTE_OFF):
        return Voice(port, message.channel, "note", message.first)
    return Voice(port, message.channel, "program", None) if message.kind is Kind.PROGRAM else None


def _value(message: ChannelMessage) -> int:
    if message.kind is Kind.CONTROL:
        return message.second
    if message.kind is Kind.PROGRAM:
        return message.first
    return DATA_MAX if message.kind is Kind.NOTE_ON else 0


# --- when a trial is over ---------------------------------------------------------------------------


def press_is_over(heard: Sequence[Heard], still: Iterable[Heard], now: int) -> bool:
    """Whether the press and its release have been heard by now, as far as can be known."""
    noise = voices(still)
    times = [point.ns for voice, points in voices(heard).items() if voice not in noise for point in points]
    if not times:
        return False
    return (now >= min(times) + _PRESS_NS and now >= max(times) + _STILL_NS) or now >= min(
        times
    ) + _LONGEST_NS


def hold_is_over(heard: Sequence[Heard], pressed: Iterable[Heard], now: int) -> bool:
    """Whether the hold and its end have been heard by now, as far as can be known."""
    known = voices(pressed)
    times = [point.ns for voice, points in voices(heard).items() if voice in known for point in points]
    if not times:
        return False
    ended = max(times) >= min(times) + HELD_NS and now >= max(times) + _STILL_NS
    return ended or now >= min(times) + _LONGEST_NS


# --- the judgement ----------------------------------------------------------------------------------


class _Found(NamedTuple):
    rank: int
    ns: int
    verdict: Verdict


def judged(still: Sequence[Heard], pressed: Sequence[Heard], held: Sequence[Heard]) -> Verdict | Doubt:
    """The switch that was pressed, then held for about two seconds.

    Args:
        still: what was heard while nobody touched anything.
        pressed: from one press, with its release.
        held: from one hold, with its end.
    """
    noise, once, long = voices(still), voices(pressed), voices(held)
    both = [voice for voice in once if voice in long and voice not in noise]
    if not both:
        return _nothing(noise, once)
    found: list[_Found] = []
    doubts: list[Doubt] = []
    for voice in both:
        judgement = _judged(voice, once[voice], long[voice])
        if isinstance(judgement, Doubt):
            doubts.append(judgement)
        else:
            found.append(_Found(_rank(judgement), once[voice][0].ns, judgement))
    return _best(found) if found else doubts[0]


def _nothing(noise: dict[Voice, list[_Point]], once: dict[Voice, list[_Point]]) -> Doubt:
    if set(once) & set(noise):
        return Doubt("what came with the press came before it too; let everything else be still")
    return Doubt("the hold sent nothing that the press had sent")


def _rank(verdict: Verdict) -> int:
    """A clean switch before a stream that looks like one; one that can be held before one that cannot."""
    if verdict.halfway:
        return 3
    return ("momentary", "latching", "press-only").index(verdict.switch.action)


def _best(found: list[_Found]) -> Verdict | Doubt:
    first = min(found, key=lambda one: (one.rank, one.ns))
    rivals = {one.verdict.switch.port for one in found if one.rank == first.rank}
    if len(rivals) > 1:
        return Doubt("two devices sent something at the same time; touch the switch alone")
    return first.verdict


def _judged(voice: Voice, once: list[_Point], long: list[_Point]) -> Verdict | Doubt:
    if voice.message == "program":
        return Verdict(_program(voice, once, long))
    values = {point.value for point in (*once, *long)}
    if len(values) > 2:
        return _halfway(voice, long, min(values), max(values))
    return _two_values(voice, _steps(once), _steps(long))


def _steps(points: Sequence[_Point]) -> list[_Step]:
    steps: list[list[_Point]] = [[points[0]]]
    for before, point in pairwise(points):
        if point.ns - before.ns < BOUNCE_NS:
            steps[-1].append(point)
        elif point.value != before.value:  # some say again and again that they are down
            steps.append([point])
    return [_Step(step[0].ns, tuple(point.value for point in step)) for step in steps]


def _program(voice: Voice, once: list[_Point], long: list[_Point]) -> FootSwitch:
    same = once[0].value == long[0].value
    return FootSwitch(
        voice.port, "program", once[0].value if same else None, voice.channel, action="press-only"
    )


def _two_values(voice: Voice, once: list[_Step], long: list[_Step]) -> Verdict | Doubt:
    gap = long[1].ns - long[0].ns if len(long) > 1 else 0
    if len(long) > 2:
        return Doubt("it moved more than once during the hold")
    if gap >= HELD_NS:
        return Verdict(_switch(voice, "momentary", down=long[0].rests, up=long[1].rests))
    if gap > TRIGGER_NS:
        return Doubt(f"it was let go after {gap / NS_PER_SECOND:.1f} s, or the switch does not tell when")
    if len(long) == 1 and len(once) == 1 and once[0].rests != long[0].rests:
        high, low = max(once[0].rests, long[0].rests), min(once[0].rests, long[0].rests)
        return Verdict(_switch(voice, "latching", down=high, up=low))
    if len(long) == 1 and len(once) > 1:
        return Doubt("it told when the press ended, but not when the hold did")
    return Verdict(_press_only(voice, max(value for step in (*once, *long) for value in step.values)))


def _press_only(voice: Voice, value: int) -> FootSwitch:
    if value == 0:
        return _made(voice, "press-only", inverted=True)
    on_at = min(_USUAL.on_at, value)
    return _made(voice, "press-only", on_at=on_at, off_at=min(_USUAL.off_at, on_at - 1))


def _halfway(voice: Voice, long: list[_Point], low: int, high: int) -> Verdict | Doubt:
    """A pedal that tells how far it is down: two values are made of it, at two thresholds."""
    if high - low < LEAST_TRAVEL:
        return Doubt(f"controller {voice.number} hardly moved ({low} to {high})")
    inverted = long[-1].value > (low + high) / 2
    down, up = (low, high) if inverted else (high, low)
    switch = _switch(voice, "momentary", down=down, up=up, middle=True)
    turns = _turns(long, switch)
    if len(turns) != 2 or turns[1] - turns[0] < HELD_NS:
        return Doubt(f"controller {voice.number} moved about; a switch goes down, stays, and comes up")
    return Verdict(switch, halfway=True)


def _turns(points: Sequence[_Point], switch: FootSwitch) -> list[int]:
    """When it passed a threshold, from up."""
    turns: list[int] = []
    down = False
    for point in points:
        value = DATA_MAX - point.value if switch.inverted else point.value
        if value >= switch.on_at if not down else value <= switch.off_at:
            down = not down
            turns.append(point.ns)
    return turns


def _switch(voice: Voice, action: str, *, down: int, up: int, middle: bool = False) -> FootSwitch:
    """A switch that sends `down` and `up`, with thresholds between them: the usual ones where they fit."""
    inverted = down < up
    high, low = (DATA_MAX - down, DATA_MAX - up) if inverted else (down, up)
    if not middle and low <= _USUAL.off_at and high >= _USUAL.on_at:
        return _made(voice, action, inverted=inverted)
    travel = high - low
    off_at = low + travel * 2 // 5
    return _made(
        voice, action, inverted=inverted, on_at=max(off_at + 1, low + travel * 3 // 5), off_at=off_at
    )


def _made(
    voice: Voice,
    action: str,
    *,
    inverted: bool = False,
    on_at: int = _USUAL.on_at,
    off_at: int = _USUAL.off_at,
) -> FootSwitch:
    return FootSwitch(
        port=voice.port,
        message=voice.message,
        number=voice.number,
        channel=voice.channel,
        action=action,
        inverted=inverted,
        on_at=on_at,
        off_at=off_at,
    )
