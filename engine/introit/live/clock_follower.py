"""MIDI clock as follower: from clocks that come with jitter, or not at all, to where the leader is.

Source of the messages: MIDI 1.0 Detailed Specification, System Real Time and Song Position Pointer.

**Where it ends.** Jitter whose standard deviation is a fifth of an interval or more (5 ms at 120, 3 ms at
240) hides which clocks are lost: where some are, or where the tempo jumps by a sixth or more, the tempo is
found again, but the count may come to be wrong by a few clocks until the next Start. A constant lateness
cannot be seen at all; it belongs to the rig.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil
from typing import Final

from introit.live.clock_filter import ClockFilter, ClockLine
from introit.live.clock_leader import (
    CLOCKS_PER_QUARTER,
    CLOCKS_PER_SIXTEENTH,
    TICKS_PER_CLOCK,
)
from introit.live.messages import SystemMessage, parse
from introit.live.timeline import HELD, Timeline
from introit.units import NS_PER_MINUTE, NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

LOST_NS: Final = 2 * NS_PER_SECOND
"""After so long without a clock the leader is lost: a bar at 120, and as far as a count can be trusted."""
LOCKED_CLOCKS: Final = CLOCKS_PER_QUARTER
"""Clocks after which the tempo is known: with 3 ms of jitter to half a per cent at 120."""
GAP_NS: Final = 200 * NS_PER_MS
"""Longer than two clocks at the slowest tempo: no change of tempo, but clocks that did not come."""


class ClockFollower:
    """Hears a leader's clock and says where it is. Pure: time comes with each call, and never goes back.

    Positions are ticks (960 a quarter) from the leader's song beginning. They are known from Start, or
    Continue after a Song Position, on; a leader that ran already when we began to listen has a tempo and no
    position. During a drop-out the last tempo goes on for 2 s; after that the leader is lost, and its
    position unknown until it says it again.
    """

    def __init__(self) -> None:
        self._filter: ClockFilter | None = None
        self._heard = 0
        self._running = False
        self._origin: int | None = None  # number of the clock at song position 0
        self._told: tuple[int, int] | None = None  # when Start or Continue came, clocks of its position
        self._song: int | None = None  # clocks from which Continue would go on

    # --- hearing ------------------------------------------------------------------------------------

    def hear(self, data: bytes, ns: int) -> None:
        """Takes in one message; what is no clock message, or not a whole one, changes nothing.

        Args:
            data: one message.
            ns: when it came; taken as no earlier than the one before.
        """
        message = parse(data)
        if not isinstance(message, SystemMessage):
            return
        ns = max(ns, self._heard)
        if message.status == 0xF8:
            self._hear_clock(ns)
        elif message.status == 0xFA:
            self._running, self._origin, self._told = True, None, (ns, 0)
        elif message.status == 0xFB:
            self._hear_continue(ns)
        elif message.status == 0xFC:
            self._hear_stop()
        elif message.status == 0xF2:
            self._song = (message.data[1] | message.data[2] << 7) * CLOCKS_PER_SIXTEENTH

    def _hear_continue(self, ns: int) -> None:
        if self._song is not None:
            self._origin, self._told = None, (ns, self._song)
            self._song = None
        self._running = True

    def _hear_stop(self) -> None:
        if self._running:
            self._song = self._following()
        self._running, self._origin, self._told = False, None, None

    def _following(self) -> int | None:
        """Clocks from the song's beginning to the next clock."""
        if self._told is not None:
            return self._told[1]
        if self._origin is None or self._filter is None:
            return None
        return self._filter.steady.number + 1 - self._origin

    def _hear_clock(self, ns: int) -> None:
        before = -1
        if self._filter is None or ns - self._heard > LOST_NS:
            self._filter, self._origin = ClockFilter(ns), None
        else:
            before = self._filter.steady.number
            if ns - self._heard > GAP_NS:
                self._filter.hear_after_gap(ns)
            else:
                self._filter.hear(ns)
        self._heard = ns
        self._place(self._filter.steady, before)

    def _place(self, line: ClockLine, before: int) -> None:
        """The first clock after Start or Continue has come: its number has their position."""
        if self._told is None:
            return
        ns, position = self._told
        number = min(before + 1, line.number)
        while number < line.number and line.time(number) < ns:
            number += 1  # one that was lost before Start was not the first after it
        self._origin, self._told = number - position, None

    # --- asking -------------------------------------------------------------------------------------

    @property
    def running(self) -> bool:
        """Whether Start or Continue was heard, and no Stop since."""
        return self._running

    def locked(self, ns: int) -> bool:
        """Whether the leader's tempo is known: a quarter of clocks heard, the last within 2 s."""
        return self._line(ns) is not None

    def tempo(self, ns: int) -> float | None:
        """The leader's tempo in quarter notes a minute; None unless locked."""
        line = self._line(ns)
        return None if line is None else NS_PER_MINUTE / (line.interval * CLOCKS_PER_QUARTER)

    def pace(self, ns: int) -> Fraction | None:
        """The leader's nanoseconds a tick, for a timeline; None unless locked."""
        line = self._line(ns)
        return None if line is None else Fraction(round(line.interval), TICKS_PER_CLOCK)

    def position(self, ns: int) -> float | None:
        """Ticks from the leader's song beginning; below 0 between Start and the first clock.

        None unless locked and running from a known position. A clock corrects it by a part of its error, back
        too; who plays by it asks `revised`, which never goes back.
        """
        line, origin = self._line(ns), self._expected_origin()
        if line is None or origin is None:
            return None
        return ((ns - line.ns) / line.interval + line.number - origin) * TICKS_PER_CLOCK

    def time(self, tick: int, ns: int) -> int | None:
        """When the leader's song is at a tick, to the nearest nanosecond, as is known at `ns`."""
        line, origin = self._line(ns), self._expected_origin()
        if line is None or origin is None:
            return None
        return line.time(tick / TICKS_PER_CLOCK + origin)

    def downbeat_after(self, ns: int, beats: int) -> int | None:
        """When the leader's next bar begins, after `ns`; the song begins with a downbeat.

        Args:
            ns: the present.
            beats: quarter notes a bar, 1 or more.

        Returns:
            Nanoseconds, later than `ns`; None where there is no position (see `position`).

        Raises:
            ValueError: if a bar has no beats.
        """
        if beats < 1:
            raise ValueError(f"beats is {beats}; allowed is 1 or more")
        position = self.position(ns)
        if position is None:
            return None
        bar = beats * TICKS_PER_QUARTER
        tick = max(0, int(position // bar) * bar)
        while (falls := self.time(tick, ns)) is not None and falls <= ns:
            tick += bar
        return falls

    def revised(self, timeline: Timeline, *, offset: int, horizon: int, now: int) -> Timeline:
        """A timeline that meets the leader a quarter after the horizon, and goes on with it from there.

        Args:
            timeline: what is played by; not changed up to the horizon, so nothing goes back.
            offset: the leader's tick at tick 0 of the timeline.
            horizon: nanosecond up to which cues have been handed over.
            now: the present.

        Returns:
            The same timeline where the leader has no position, or time is held at the horizon.
        """
        tick, pace = timeline.tick(horizon) + 1, self.pace(now)
        begins = timeline.ns(tick)
        meets = self.time(tick + TICKS_PER_QUARTER + offset, now)
        if begins is None or meets is None or pace is None:
            return timeline
        way = Fraction(meets - begins, TICKS_PER_QUARTER)
        way = max(pace / 2, min(way, pace * 2))  # at most twice as fast or slow
        revised = timeline.retime(tick, way).retime(tick + TICKS_PER_QUARTER, pace)
        last = timeline.segments[-1]
        return revised.hold(last.tick) if last.pace is HELD else revised

    def _line(self, ns: int) -> ClockLine | None:
        if self._filter is None or ns - self._heard > LOST_NS or self._filter.heard < LOCKED_CLOCKS:
            return None
        return self._filter.steady

    def _expected_origin(self) -> int | None:
        """The number of the clock at song position 0; after Start the next clock's, before it has come."""
        if self._told is None or self._filter is None:
            return self._origin
        told, position = self._told
        if told - self._heard > GAP_NS:
            return None  # no clock runs: when the first comes, only the leader knows
        line = self._filter.steady
        return line.number + 1 + ceil(max(0.0, line.late(told))) - position
