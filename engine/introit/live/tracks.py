"""From a performance and a timeline to cues at nanoseconds, one track a port, and the rule for late notes."""

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


class Timed(NamedTuple):
    """A cue and the nanosecond at which its note ends (its own time, for a note-off)."""

    cue: Cue
    end: int


class Track:
    """The cues for one port, handed out in order, each once.

    The rule for what comes late: a note-on is dropped when it is more than 100 ms late, and when it is late
    at all and its note would be over before it could sound (its end is within the port's lookahead of now).
    So no note begins at or after the head. A note-off is never dropped.

    Args:
        timed: ordered by cue.
        lookahead: nanoseconds ahead that the port wants its cues.
    """

    def __init__(self, timed: Sequence[Timed], lookahead: int) -> None:
        self._timed = timed
        self._lookahead = lookahead
        self._at = 0

    @property
    def next_due(self) -> int | None:
        """When the next cue is to be handed over; None when there are no more."""
        return self._timed[self._at].cue.ns - self._lookahead if self._at < len(self._timed) else None

    def take(self, now: int) -> tuple[Cue, ...]:
        """All cues to be handed over by `now`."""
        horizon, begin = now + self._lookahead, self._at
        while self._at < len(self._timed) and self._timed[self._at].cue.ns <= horizon:
            self._at += 1
        return tuple(timed.cue for timed in self._timed[begin : self._at] if not self._too_late(timed, now))

    def _too_late(self, timed: Timed, now: int) -> bool:
        late = now - timed.cue.ns
        return (
            timed.cue.rank == Rank.ON and late > 0 and (late > LATE_NS or timed.end <= now + self._lookahead)
        )


def tracks_for(
    performance: Performance,
    timeline: Timeline,
    *,
    routes: Iterable[Route],
    lookaheads: Sequence[int],
    sequence: Callable[[], int],
) -> list[Track]:
    """The tracks of a performance, one for each port, in the ports' order.

    Muted routes and parts without one are left out. What would sound at or after the head is left out or cut
    there.

    Args:
        performance: what to play.
        timeline: not held before the head.
        routes: where each part goes; a part may go to several places.
        lookaheads: each port's, in nanoseconds.
        sequence: gives the next cue's number.
    """
    ways: list[list[Route]] = [[] for _ in PARTS]
    for route in routes:
        if not route.muted:
            ways[route.part].append(route)
    timed: list[list[Timed]] = [[] for _ in lookaheads]
    for note in performance.notes:
        begin, end = timeline.ns(note.onset), timeline.ns(min(note.end, performance.head_tick))
        if begin is None or end is None or begin >= end:
            continue
        for route in ways[note.part]:
            off, on = note_off(route.channel, note.pitch), note_on(route.channel, note.pitch, note.velocity)
            timed[route.port].append(Timed(Cue(begin, Rank.ON, sequence(), on), end))
            timed[route.port].append(Timed(Cue(end, Rank.OFF, sequence(), off), end))
    return [Track(sorted(cues), lookahead) for cues, lookahead in zip(timed, lookaheads, strict=True)]
