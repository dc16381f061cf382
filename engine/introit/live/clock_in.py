"""The clock that comes in on one port: when a start enters with it, and how what is playing keeps up."""

from __future__ import annotations

from typing import NamedTuple

from introit.live.clock_follower import ClockFollower
from introit.live.clock_leader import CLOCKS_PER_SIXTEENTH
from introit.live.playing import Playing
from introit.performance import Performance
from introit.units import TEMPO_MAX, TEMPO_MIN


class Entry(NamedTuple):
    """Where a start enters with the leader.

    Attributes:
        ns: the leader's next downbeat.
        tempo: the leader's, in quarter notes a minute.
        offset: the leader's tick at the performance's tick 0.
    """

    ns: int
    tempo: float
    offset: int


class ClockIn:
    """What a session follows. Pure: time comes with each call.

    An intro that waits for the foot takes the leader's tempo and downbeat, and goes its own way from there.

    Args:
        port: index of the port that it comes in on.
    """

    def __init__(self, port: int) -> None:
        self.port = port
        self._follower = ClockFollower()
        self._offset: int | None = None
        self._clocks = 0

    def hear(self, data: bytes, ns: int) -> None:
        """Takes in one message; what is no clock message changes nothing."""
        self._follower.hear(data, ns)

    def enter(self, performance: Performance, now: int) -> Entry | None:
        """Where a start that is wanted now enters; None where the leader has no position, or an odd tempo."""
        follower, bar = self._follower, performance.bar_ticks
        ns = follower.downbeat_after(now, performance.beats)
        tempo, pace, position = follower.tempo(now), follower.pace(now), follower.position(now)
        if ns is None or tempo is None or pace is None or position is None:
            return None
        if not TEMPO_MIN <= tempo <= TEMPO_MAX:
            return None
        downbeat = round((position + float((ns - now) / pace)) / bar) * bar
        return Entry(ns, tempo, downbeat - performance.start_tick)

    def follow(self, entry: Entry | None) -> None:
        """From now on what is playing entered so; None for one that has its own time."""
        self._offset = None if entry is None else entry.offset

    @property
    def leads(self) -> bool:
        """Whether what plays keeps to this clock."""
        return self._offset is not None

    def steer(self, playing: Playing, *, horizon: int, now: int) -> bool:
        """Sets what is playing on a timeline that meets the leader; False where nothing changes.

        To be asked at each clock; it revises once a sixteenth, for every revision makes the timeline longer.

        Args:
            playing: what is playing.
            horizon: nanosecond up to which cues have been handed over.
            now: the present.
        """
        self._clocks += 1
        if self._offset is None or playing.performance.waits or self._clocks % CLOCKS_PER_SIXTEENTH:
            return False
        revised = self._follower.revised(playing.timeline, offset=self._offset, horizon=horizon, now=now)
        pace = self._follower.pace(now)
        if revised == playing.timeline or pace is None:
            return False
        playing.timeline, playing.pace = revised, pace
        playing.downbeat = revised.ns(0) or playing.downbeat
        return True
