"""MIDI clock as follower: from clocks that come with jitter, or not at all, to where the leader is.

Source of the messages: MIDI 1.0 Detailed Specification, System Real Time and Song Position Pointer.

**The filter.** A line through the clocks' times by their number, corrected by each clock's error e (an
alpha-beta filter): phase += alpha e, interval += beta e. The gains are those of a least-squares line through
all clocks so far, alpha = 2(2k + 1) / ((k + 1)(k + 2)) and beta = 6 / ((k + 1)(k + 2)) at the k-th (the
expanding-memory polynomial filter of degree 1), so it locks as fast as can be without taking noise for tempo;
k stops at a line's memory.

**Three lines.** The *steady* one remembers 96 clocks (a bar of four) and keeps the phase to 0.2 of the
jitter, but comes late to a change of tempo; the *middle* one remembers 24. Where the middle one's errors of
the last half-beat are clearly smaller, the steady one starts from it. Both take a clock for a later one, or
for none, when it comes off the grid by about an interval: clocks get lost and doubled. The *counting* one
remembers 8 and believes that every clock counts: it is right when the tempo jumps, which for some clocks
looks the same.
Where its errors are clearly smaller the others start from it; and a slip is taken back if it turns out within
32 clocks that the tempo has changed since.

**Where it ends.** Jitter whose standard deviation is a fifth of an interval or more (5 ms at 120, 3 ms at
240) hides which clocks are lost: where some are, the tempo still holds, but the count may come to be wrong by
a few clocks until the next Start. A constant lateness cannot be seen at all; it belongs to the rig.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil
from typing import Final

from introit.live.clock_leader import (
    CLOCKS_PER_QUARTER,
    CLOCKS_PER_SIXTEENTH,
    TICKS_PER_CLOCK,
)
from introit.live.messages import SystemMessage, parse
from introit.live.timeline import HELD, Timeline
from introit.units import NS_PER_MINUTE, NS_PER_MS, NS_PER_SECOND, TEMPO_MAX, TEMPO_MIN, TICKS_PER_QUARTER

LOST_NS: Final = 2 * NS_PER_SECOND
"""After so long without a clock the leader is lost: a bar at 120, and as far as a count can be trusted."""
LOCKED_CLOCKS: Final = CLOCKS_PER_QUARTER
"""Clocks after which the tempo is known: with 3 ms of jitter to half a per cent at 120."""
GAP_NS: Final = 200 * NS_PER_MS
"""Longer than two clocks at the slowest tempo: no change of tempo, but clocks that did not come."""
_MEMORIES = 96, 24, 8
"""Clocks that the steady, the middle and the counting line remember."""
_SURE = 8
"""Clocks after which a grid is there to slip from."""
_ERROR_CLOCKS, _JITTER_CLOCKS = 12, 48
_SLIP = 0.5
"""What a slip costs in the tally of errors, and the most that one clock's error moves a line; intervals."""
_CLEARLY = 0.6
_FLOOR = (0.1 * NS_PER_MS) ** 2
"""Mean square error below which two lines are equally good."""
_DOUBT = 0.25
"""Least evidence for a slip: a single clock that is 3/4 of an interval off its place."""
_EVIDENCE, _EVIDENCE_AGAIN, _SUSPICION = 14.0, 6.5, 192
"""What it takes with jitter: the logarithm of how much likelier the slip must be, a million to 1; within so
many clocks of another slip 650 to 1, for what loses clocks loses more of them."""
_JITTER_MAX = (4 * NS_PER_MS) ** 2
"""Mean square of the jitter that is believed in: were it unbounded, lost clocks would hide lost clocks."""
_PATIENCE = 32
"""Clocks from the first slip after which it is judged."""
_SAME_TEMPO = 0.1
"""Share by which the tempo may have changed since a slip for the slip to be believed."""
_FIRST_INTERVAL = NS_PER_MINUTE / 120 / CLOCKS_PER_QUARTER
_SHORTEST, _LONGEST = (NS_PER_MINUTE / tempo / CLOCKS_PER_QUARTER for tempo in (TEMPO_MAX, TEMPO_MIN))
_ROOM = 1.25
"""How far beyond the tempos allowed a line may go while it settles."""


class _Line:
    """When each clock falls: `ns` of clock `number`, and `interval` nanoseconds to the next."""

    def __init__(self, ns: int, memory: int) -> None:
        self.number = self.seen = 0
        self.ns = ns
        self.interval: float = _FIRST_INTERVAL
        self.error = self.jitter = (
            0.0  # mean squares of its errors, over the last half-beat and over two beats
        )
        self.memory = memory

    def late(self, ns: int) -> float:
        """Intervals after the time at which the next clock is expected."""
        return (ns - self.ns) / self.interval - 1

    def time(self, number: float) -> int:
        """When a clock falls, to the nearest nanosecond."""
        return self.ns + round((number - self.number) * self.interval)

    def take(self, ns: int, *, step: int, slip: bool = True) -> None:
        """Corrects the line by a clock.

        Args:
            ns: when it was heard.
            step: how many clocks after the last; 0 for one that is not counted.
            slip: whether any other step than 1 counts as an error.
        """
        error: float = ns - self.time(self.number + step)
        self._tally(error, slipped=slip and step != 1)
        if step == 0:
            return
        if self.memory > _SURE and self.seen >= _SURE:
            error = max(-_SLIP * self.interval, min(error, _SLIP * self.interval))
        self.seen = min(self.seen + 1, self.memory)
        steepness = (self.seen + 1) * (self.seen + 2)
        self.ns += round(step * self.interval + error * 2 * (2 * self.seen + 1) / steepness)
        self.number += step
        changed = self.interval + error * 6 / steepness / step
        self.interval = max(_SHORTEST / _ROOM, min(changed, _LONGEST * _ROOM))

    def start_from(self, other: _Line) -> None:
        """Takes the other's place, with no longer memory than either has."""
        self.number, self.ns, self.interval = other.number, other.ns, other.interval
        self.error = other.error
        self.seen = min(other.seen, self.memory)

    def _tally(self, error: float, *, slipped: bool) -> None:
        if slipped:
            self.error += ((self.interval * _SLIP) ** 2 - self.error) / _ERROR_CLOCKS
            return
        squared = min(error * error, self.interval**2)
        self.error += (squared - self.error) / _ERROR_CLOCKS
        self.jitter += (min(squared, (self.interval * _SLIP) ** 2) - self.jitter) / _JITTER_CLOCKS


class _Filter:
    """Three lines through the clocks, and which to believe; see the module's description."""

    def __init__(self, ns: int) -> None:
        self.steady, self.middle, self.counting = (_Line(ns, memory) for memory in _MEMORIES)
        self.heard = 0
        self._missing = self._spare = 0.0
        self._apart = 0
        self._slipped = 0  # which clock was the last that slipped, counted as heard
        self._before = self.steady.interval  # before the first slip that has not been judged yet

    def hear(self, ns: int) -> None:
        """Takes in a clock."""
        self.heard += 1
        step = self._step(ns)
        self._note_slip(step)
        for line in (self.steady, self.middle):
            line.take(ns, step=step)
        self.counting.take(ns, step=1)
        if _better(self.middle, self.steady):
            self.steady.start_from(self.middle)
        self._judge()

    def hear_after_gap(self, ns: int) -> None:
        """Takes in the first clock after some time without: the grid tells which one it is."""
        self.heard += 1
        self.steady.seen = min(self.steady.seen, self.middle.memory)
        self.steady.take(ns, step=max(1, 1 + round(self.steady.late(ns))), slip=False)
        self._agree(self.steady)

    def _step(self, ns: int) -> int:
        """How many clocks after the last one this is: 1, more if some were lost, 0 if it is one too many.

        Evidence is summed from clock to clock (a sequential test), in intervals by which it comes nearer to
        the following place, or to the one before, than to its own.
        """
        if self.heard < _SURE:
            return 1
        line = self.middle
        late = line.late(ns)
        evidence = _EVIDENCE_AGAIN if self._slipped and self.heard - self._slipped < _SUSPICION else _EVIDENCE
        doubt = max(_DOUBT, evidence * min(line.jitter, _JITTER_MAX) / line.interval**2)
        self._missing = max(0.0, self._missing + late - 0.5)
        self._spare = max(0.0, self._spare - late - 0.5)
        if max(self._missing, self._spare) <= doubt:
            return 1
        self._slipped = self.heard
        step = 1 + max(1, round(late)) if self._missing > doubt else 0
        self._missing = self._spare = 0.0
        return step

    def _note_slip(self, step: int) -> None:
        if self._apart:
            self._apart += 1
        elif step != 1:
            self._apart = 1
        else:
            self._before = self.steady.interval

    def _judge(self) -> None:
        """Follows a change of tempo, and takes slips back that were none; each line's last clock is this."""
        counting = self.counting
        if _better(counting, self.middle) and (not self._apart or self._changed(counting)):
            self._agree(counting)
        elif self._apart > _PATIENCE:
            if self._changed(self.middle):
                self.middle.number = self.steady.number = counting.number
            self.counting.start_from(self.middle)
            self._apart = 0

    def _changed(self, line: _Line) -> bool:
        return abs(line.interval / self._before - 1) > _SAME_TEMPO

    def _agree(self, line: _Line) -> None:
        for other in (self.steady, self.middle, self.counting):
            if other is not line:
                other.start_from(line)
        self._missing = self._spare = 0.0
        self._apart = 0


def _better(one: _Line, other: _Line) -> bool:
    """Whether one line's errors are clearly smaller, at a tempo that is allowed."""
    return _SHORTEST <= one.interval <= _LONGEST and one.error + _FLOOR < _CLEARLY * other.error


class ClockFollower:
    """Hears a leader's clock and says where it is. Pure: time comes with each call, and never goes back.

    Positions are ticks (960 a quarter) from the leader's song beginning. They are known from Start, or
    Continue after a Song Position, on; a leader that ran already when we began to listen has a tempo and no
    position. During a drop-out the last tempo goes on for 2 s; after that the leader is lost, and its
    position unknown until it says it again.
    """

    def __init__(self) -> None:
        self._filter: _Filter | None = None
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
            self._filter, self._origin = _Filter(ns), None
        else:
            before = self._filter.steady.number
            if ns - self._heard > GAP_NS:
                self._filter.hear_after_gap(ns)
            else:
                self._filter.hear(ns)
        self._heard = ns
        self._place(self._filter.steady, before)

    def _place(self, line: _Line, before: int) -> None:
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

    def _line(self, ns: int) -> _Line | None:
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
