"""From a performance to cues: a track a port, in ticks until a timeline sets it on the clock."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Final, NamedTuple

from introit.live.cue import Cue, Rank
from introit.live.messages import note_off, note_on
from introit.live.setup import Route
from introit.live.timeline import Timeline
from introit.performance import PARTS, Performance
from introit.units import NS_PER_MS, TICKS_PER_QUARTER

LATE_NS: Final = 100 * NS_PER_MS
"""A note-on later than this is dropped."""
SHORTEST_TICKS: Final = TICKS_PER_QUARTER // 2
"""A note that lasts shorter than this into another key's first bar is not struck there."""


class Step(NamedTuple):
    """A message at a tick of the timeline, ordered as cues are.

    Attributes:
        tick: when it goes out.
        rank: see `cue.Rank`.
        number: of the note it belongs to.
        data: the message.
        end: tick at which its note ends.
        harmony: tick at which its note's chord begins.
        part: index into `performance.PARTS`.
    """

    tick: int
    rank: int
    number: int
    data: bytes
    end: int
    harmony: int = 0
    part: int = 0


class Track:
    """The steps for one port, handed out as cues in order, each once.

    The rule for what comes late: a note-on is dropped when it is more than 100 ms late, and when it is late
    at all and its note would be over before it could sound (its end is within the port's lookahead of now).
    So nothing begins after the performance's end. A note-off is never dropped. While the timeline is held,
    what lies behind waits.

    Args:
        steps: in order.
        timeline: sets them on the clock.
        lookahead: nanoseconds ahead that the port wants its cues.
        sequence: gives the next cue's number.
    """

    def __init__(
        self, steps: Sequence[Step], timeline: Timeline, *, lookahead: int, sequence: Callable[[], int]
    ) -> None:
        self._steps = list(steps)
        self._timeline = timeline
        self._lookahead = lookahead
        self._sequence = sequence
        self._muted: frozenset[int] = frozenset()
        self._unsaid: set[int] = set()
        self._at = 0
        self._next = self._next_ns()

    @property
    def next_due(self) -> int | None:
        """When the next cue is to be handed over; None when there are no more."""
        return None if self._next is None else self._next - self._lookahead

    def take(self, now: int) -> tuple[Cue, ...]:
        """All cues to be handed over by `now`."""
        horizon = now + self._lookahead
        cues = []
        while self._next is not None and self._next <= horizon:
            step, ns = self._steps[self._at], self._next
            if self._is_said(step, ns, now):
                cues.append(Cue(ns, step.rank, self._sequence(), step.data))
            self._at += 1
            if self._at == len(self._steps) or self._steps[self._at].tick != step.tick:
                self._next = self._next_ns()
        return tuple(cues)

    def extend(self, steps: Sequence[Step]) -> None:
        """More to come, at ticks not before what has been taken.

        What sounds on a pitch that is struck again ends there, so that no off lands behind the next on.
        """
        rest = self._steps[self._at :]
        struck: dict[bytes, int] = {}
        for step in steps:
            if step.rank == Rank.ON:
                note = _note(step.data)
                struck[note] = min(step.tick, struck.get(note, step.tick))
        begins = {step.number: step.tick for step in rest if step.rank == Rank.ON}

        def ended(step: Step) -> Step:
            again = struck.get(_note(step.data))
            if step.rank != Rank.OFF or again is None or begins.get(step.number, again - 1) >= again:
                return step
            return step._replace(tick=min(step.tick, again))

        self._set([*map(ended, rest), *steps])

    def mute(self, parts: frozenset[int], now: int) -> None:
        """Nothing of these parts begins any more; what of them has begun ends as soon as can be."""
        silenced = parts - self._muted
        self._muted = parts
        if silenced and self._at < len(self._steps):
            tick = self._timeline.tick(now + self._lookahead) + 1
            if self._timeline.ns(tick) is None:  # time stands still: what rings ends now all the same
                tick -= 1
            rest = self._steps[self._at :]
            waiting = {step.number for step in rest if step.rank == Rank.ON}
            self._set(
                step._replace(tick=min(step.tick, tick))
                if step.part in silenced and step.rank == Rank.OFF and step.number not in waiting
                else step
                for step in rest
            )

    def cut(self, tick: int) -> None:
        """Of what has not been taken, nothing begins at `tick` or belongs to a chord from there on.

        What has begun, or still begins before, ends there at the latest.
        """
        rest = self._steps[self._at :]
        dropped = {
            step.number for step in rest if step.rank == Rank.ON and max(step.tick, step.harmony) >= tick
        }
        self._set(
            step._replace(tick=min(step.tick, tick), end=min(step.end, tick))
            for step in rest
            if step.number not in dropped
        )

    def end_by(self, ns: int) -> None:
        """The same at a time, as the timeline is now."""
        self.cut(self._timeline.tick(ns))

    def retime(self, timeline: Timeline) -> None:
        """Another timeline, which sets what has been taken where it was."""
        self._timeline = timeline
        self._next = self._next_ns()

    def _set(self, steps: Iterable[Step]) -> None:
        """What is still to be taken."""
        self._steps, self._at = sorted(steps), 0
        self._next = self._next_ns()

    def _next_ns(self) -> int | None:
        return self._timeline.ns(self._steps[self._at].tick) if self._at < len(self._steps) else None

    def _is_said(self, step: Step, ns: int, now: int) -> bool:
        """Whether a step goes out: not a note-on that is muted or too late, nor the off of a muted one."""
        if step.rank != Rank.ON:
            unsaid = step.number in self._unsaid
            self._unsaid.discard(step.number)
            return not unsaid
        if step.part in self._muted:
            self._unsaid.add(step.number)
            return False
        return not self._too_late(step, ns, now)

    def _too_late(self, step: Step, ns: int, now: int) -> bool:
        if now <= ns:
            return False
        end = self._timeline.ns(step.end)
        return now - ns > LATE_NS or (end is not None and end <= now + self._lookahead)


class Routed(NamedTuple):
    """A note of a performance on its way to one port.

    Attributes:
        onset, end, harmony: ticks of the score, as in `performance.PlayedNote`.
        on, off: the messages.
        part: index into `performance.PARTS`.
    """

    onset: int
    end: int
    harmony: int
    on: bytes
    off: bytes
    part: int = 0


def routed(performance: Performance, routes: Iterable[Route], ports: int) -> tuple[tuple[Routed, ...], ...]:
    """The notes of a performance for each port, in the ports' order, without muted routes.

    What would sound after the performance's end is left out or cut there.

    Args:
        performance: what to play.
        routes: where each part goes; a part may go to several places.
        ports: how many ports there are.
    """
    ways: list[list[Route]] = [[] for _ in PARTS]
    for route in routes:
        if not route.muted:
            ways[route.part].append(route)
    notes: list[list[Routed]] = [[] for _ in range(ports)]
    for note in performance.notes:
        end = min(note.end, performance.end_tick)
        if note.onset >= end:
            continue
        for route in ways[note.part]:
            on = note_on(route.channel, note.pitch, note.velocity)
            off = note_off(route.channel, note.pitch)
            notes[route.port].append(Routed(note.onset, end, note.harmony_tick, on, off, note.part))
    return tuple(tuple(port_notes) for port_notes in notes)


class Span(NamedTuple):
    """Some ticks of a score, set on the timeline.

    Attributes:
        start: first tick of the score.
        end: where the score is left; None to play it to its end, whatever rings.
        at: tick of the timeline on which `start` falls.
        joined: True where something else was played before: what takes the chord at `start` early is played
            before it, and belongs to this span.
        struck: True where what has begun before `start` and lasts is struck there: another key begins.
    """

    start: int
    end: int | None
    at: int
    joined: bool = False
    struck: bool = False


def laid(notes: Iterable[Routed], span: Span, *, number: int = 0) -> list[Step]:
    """The steps of a span, in order; what belongs to a chord behind its end is left out.

    Args:
        notes: of one port.
        span: what of the score, and where.
        number: of the first note; each note has one more.
    """
    shift, steps = span.at - span.start, []
    for place, note in enumerate(notes, start=number):
        if note.onset < span.start and not (span.joined and note.harmony >= span.start):
            if not span.struck or note.end - span.start < SHORTEST_TICKS:
                continue
            note = note._replace(onset=span.start, harmony=span.start)
        if span.end is not None and max(note.onset, note.harmony) >= span.end:
            continue
        end = (note.end if span.end is None else min(note.end, span.end)) + shift
        onset, harmony = note.onset + shift, note.harmony + shift
        steps.append(Step(onset, Rank.ON, place, note.on, end, harmony, note.part))
        steps.append(Step(end, Rank.OFF, place, note.off, end, harmony, note.part))
    return sorted(steps)


def _note(data: bytes) -> bytes:
    """Channel and pitch of a note-on or note-off."""
    return bytes((data[0] & 0x0F, data[1]))
