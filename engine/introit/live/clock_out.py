"""The clock that goes out on a port: a leader for each playing, from its count-off until its tune is left."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from fractions import Fraction
from typing import Final

from introit.live.clock_leader import TICKS_PER_CLOCK, ClockLeader
from introit.live.cue import Cue
from introit.live.playing import Playing
from introit.live.setup import ClockLead
from introit.live.timeline import Timeline
from introit.units import NS_PER_SECOND

_MEMORY_NS: Final = 5 * NS_PER_SECOND
"""So long ago a message may have been handed over that a lost cycle has lost."""


class ClockOut:
    """What a session leads by. Pure: it makes cues and hands none over.

    Start is before the first clock of the intro's downbeat, or of the head's as soon as that is known: as the
    performance says, or else the rig. Out of time there is no clock; once time is kept it begins, with Start
    on the next bar line. After the landing it goes on at the tune's tempo. After a silence nothing is to be
    said here: whoever releases what was handed sends Stop (see `account.Account`).

    Args:
        lead: which port, and what Start is for where a performance does not say.
        lookahead: the port's, in nanoseconds.
        sequence: gives the next cue's number.
    """

    def __init__(self, lead: ClockLead, lookahead: int, sequence: Callable[[], int]) -> None:
        self.port = lead.port
        self._usual = lead.start
        self._at_head = False
        self._lookahead = lookahead
        self._sequence = sequence
        self._leader: ClockLeader | None = None
        self._handed: deque[Cue] = deque()

    @staticmethod
    def lead_time(pace: Fraction) -> int:
        """Nanoseconds before its clock at which Start goes out, at a pace in nanoseconds a tick."""
        return round(TICKS_PER_CLOCK * pace / 2) + 1

    def start(self, playing: Playing, now: int) -> None:
        """Another playing takes the place of what was led before, of which Start was not handed over."""
        self._leader = None
        self._at_head = (playing.performance.start_clock or self._usual) == "head"
        if playing.out_of_time:
            return
        first = playing.performance.start_tick
        if playing.performance.tapped:  # the clock begins among the taps
            last = self._handed[-1].ns if self._handed else now
            first = min(first, _tick_from(playing.timeline, max(now, last + self.lead_time(playing.pace))))
        self._begin(playing, first, 0)

    def follow(self, playing: Playing, now: int) -> None:
        """The playing has taken another course: its timeline, its head, or where it waits."""
        if playing.out_of_time:
            return
        leader = self._leader
        if leader is None:
            first, bar = _tick_from(playing.timeline, now), playing.performance.bar_ticks
            self._begin(playing, first, -(-first // bar) * bar)
            return
        leader.timeline, leader.resumes = playing.timeline, playing.resumes
        if self._at_head:
            leader.origin = playing.head

    def _begin(self, playing: Playing, first: int, downbeat: int) -> None:
        origin = playing.head if self._at_head else downbeat
        self._leader = ClockLeader(
            playing.timeline, first=first, origin=origin, lookahead=self._lookahead, sequence=self._sequence
        )
        self._leader.resumes = playing.resumes

    def take(self, now: int) -> tuple[Cue, ...]:
        """All cues to be handed over by `now`."""
        cues = () if self._leader is None else self._leader.take(now)
        while self._handed and self._handed[0].ns < now - _MEMORY_NS:
            self._handed.popleft()
        self._handed.extend(cues)
        return cues

    @property
    def next_due(self) -> int | None:
        """When `take` next has something."""
        return None if self._leader is None else self._leader.next_due

    def end(self, now: int) -> tuple[Cue, ...]:
        """The tune is left: Stop, where Start was told."""
        leader, self._leader = self._leader, None
        return () if leader is None else leader.stop(now)

    def forget(self) -> None:
        """All was silenced: nothing more is said."""
        self._leader = None

    def locate(self, now: int) -> None:
        """Whoever listens knows nothing any more."""
        if self._leader is not None:
            self._leader.locate(now)

    def lose(self, start: int, end: int, now: int) -> None:
        """What was due within [start, end] may be lost: says anew where the song is, if anything was."""
        if any(start <= cue.ns <= end for cue in self._handed):
            self.locate(now)


def _tick_from(timeline: Timeline, ns: int) -> int:
    """The first tick that falls at or after `ns`."""
    tick = timeline.tick(ns)
    return tick if timeline.ns(tick) == ns else tick + 1
