"""From a performance to cues: a track a port, in ticks until a timeline sets it on the clock."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Final, NamedTuple

from introit.live.cue import Cue, Rank
from introit.live.messages import note_off, note_on
from introit.live.setup import Route
from introit.live.timeline import Timeline
from introit.performance import PARTS, Performance
from introit.units import NS_PER_MS

LATE_NS: Final = 100 * NS_PER_MS
"""A note-on later than this is dropped."""


class Step(NamedTuple):
    """A message at a tick, ordered as cues are; `end` is the tick at which its note ends."""

    tick: int
    rank: int
    number: int
    data: bytes
    end: int


class Track:
    """The steps for one port, handed out as cues in order, each once.

    The rule for what comes late: a note-on is dropped when it is more than 100 ms late, and when it is late
    at all and its note would be over before it could sound (its end is within the port's lookahead of now).
    So nothing begins after the performance's end. A note-off is never dropped.

    Args:
        steps: in order.
        timeline: sets them on the clock; not held before the last.
        lookahead: nanoseconds ahead that the port wants its cues.
        sequence: gives the next cue's number.
    """

    def __init__(
        self, steps: Sequence[Step], timeline: Timeline, *, lookahead: int, sequence: Callable[[], int]
    ) -> None:
        self._steps = steps
        self._timeline = timeline
        self._lookahead = lookahead
        self._sequence = sequence
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
            if step.rank != Rank.ON or not self._too_late(step, ns, now):
                cues.append(Cue(ns, step.rank, self._sequence(), step.data))
            self._at += 1
            if self._at == len(self._steps) or self._steps[self._at].tick != step.tick:
                self._next = self._next_ns()
        return tuple(cues)

    def _next_ns(self) -> int | None:
        return self._timeline.ns(self._steps[self._at].tick) if self._at < len(self._steps) else None

    def _too_late(self, step: Step, ns: int, now: int) -> bool:
        if now <= ns:
            return False
        end = self._timeline.ns(step.end)
        return now - ns > LATE_NS or (end is not None and end <= now + self._lookahead)


def steps_for(performance: Performance, routes: Iterable[Route], ports: int) -> tuple[tuple[Step, ...], ...]:
    """The steps of a performance for each port, in the ports' order.

    Muted routes and parts without one are left out. What would sound after the performance's end is left out
    or cut there.

    Args:
        performance: what to play.
        routes: where each part goes; a part may go to several places.
        ports: how many ports there are.
    """
    ways: list[list[Route]] = [[] for _ in PARTS]
    for route in routes:
        if not route.muted:
            ways[route.part].append(route)
    steps: list[list[Step]] = [[] for _ in range(ports)]
    for number, note in enumerate(performance.notes):
        end = min(note.end, performance.end_tick)
        if note.onset >= end:
            continue
        for route in ways[note.part]:
            off, on = note_off(route.channel, note.pitch), note_on(route.channel, note.pitch, note.velocity)
            steps[route.port].append(Step(note.onset, Rank.ON, number, on, end))
            steps[route.port].append(Step(end, Rank.OFF, number, off, end))
    return tuple(tuple(sorted(port_steps)) for port_steps in steps)
