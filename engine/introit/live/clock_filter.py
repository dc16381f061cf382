"""The filter of a clock follower: when each clock falls, from clocks that come with jitter, or not at all.

**A line** runs through the clocks' times by their number, corrected by each clock's error e (an
alpha-beta filter): phase += alpha e, interval += beta e. The gains are those of a least-squares line through
all clocks so far, alpha = 2(2k + 1) / ((k + 1)(k + 2)) and beta = 6 / ((k + 1)(k + 2)) at the k-th (the
expanding-memory polynomial filter of degree 1), so it locks as fast as can be without taking noise for tempo;
k stops at a line's memory.

**Three lines.** The *steady* one remembers 96 clocks (a bar of four) and keeps the phase to 0.2 of the
jitter, but comes late to a change of tempo; the *middle* one remembers 24. Where the middle one's errors of
the last half-beat are clearly smaller, the steady one starts from it. Both take a clock for a later one, or
for none, when it comes off the grid by about an interval: clocks get lost and doubled. The *counting* one
remembers 8 and believes that every clock counts: it is right when the tempo jumps, which for some clocks
looks the same: twice the interval may be every other clock lost. Nothing that can be followed loses so many.
Where its errors are clearly smaller the others start from it; and a slip is taken back if it turns out within
32 clocks that the tempo has changed since.
"""

from __future__ import annotations

from introit.live.clock_leader import CLOCKS_PER_QUARTER
from introit.units import NS_PER_MINUTE, NS_PER_MS, TEMPO_MAX, TEMPO_MIN

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
_MANY, _THIRD = 8, 3
"""So many slips, a third of the clocks: what loses so many cannot be followed, so the tempo has jumped."""
_FIRST_INTERVAL = NS_PER_MINUTE / 120 / CLOCKS_PER_QUARTER
_SHORTEST, _LONGEST = (NS_PER_MINUTE / tempo / CLOCKS_PER_QUARTER for tempo in (TEMPO_MAX, TEMPO_MIN))
_ROOM = 1.25
"""How far beyond the tempos allowed a line may go while it settles."""


class ClockLine:
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

    def start_from(self, other: ClockLine) -> None:
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


class ClockFilter:
    """Three lines through the clocks, and which to believe; see the module's description."""

    def __init__(self, ns: int) -> None:
        self.steady, self.middle, self.counting = (ClockLine(ns, memory) for memory in _MEMORIES)
        self.heard = 0
        self._missing = self._spare = 0.0
        self._apart = 0
        self._slips = 0  # since the first that has not been judged yet
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
            self._apart, self._slips = self._apart + 1, self._slips + (step != 1)
        elif step != 1:
            self._apart = self._slips = 1
        else:
            self._before = self.steady.interval

    def _judge(self) -> None:
        """Follows a change of tempo, and takes slips back that were none; each line's last clock is this."""
        counting = self.counting
        many = self._slips >= max(_MANY, self._apart / _THIRD) and _may_be(counting)
        if (many or _better(counting, self.middle)) and (not self._apart or self._changed(counting)):
            self._agree(counting)
        elif self._apart > _PATIENCE:
            if self._changed(self.middle):
                self.middle.number = self.steady.number = counting.number
            self.counting.start_from(self.middle)
            self._apart = self._slips = 0

    def _changed(self, line: ClockLine) -> bool:
        return abs(line.interval / self._before - 1) > _SAME_TEMPO

    def _agree(self, line: ClockLine) -> None:
        for other in (self.steady, self.middle, self.counting):
            if other is not line:
                other.start_from(line)
        self._missing = self._spare = 0.0
        self._apart = self._slips = 0


def _may_be(line: ClockLine) -> bool:
    """Whether a line is a leader's: its tempo is allowed, and its errors show where each clock belongs."""
    return _SHORTEST <= line.interval <= _LONGEST and line.error < (line.interval * _SLIP) ** 2


def _better(one: ClockLine, other: ClockLine) -> bool:
    """Whether one line's errors are clearly smaller, at a tempo that is allowed."""
    return _SHORTEST <= one.interval <= _LONGEST and one.error + _FLOOR < _CLEARLY * other.error
