"""One playing of a performance: its timeline, its beats as they pass, and where it lands."""

from __future__ import annotations

from bisect import bisect_right
from typing import NamedTuple

from introit.live.timeline import Timeline
from introit.performance import ChordMark, Performance
from introit.units import TICKS_PER_QUARTER, ns_per_tick

_NO_CHORD = ChordMark(0, "", "")


class Beat(NamedTuple):
    """A beat as it is shown.

    Attributes:
        ns: when it falls.
        bar: from 1; 0 or less in the count-off.
        beat: of the bar, from 1.
        beats_to_head: beats from this one to the head's downbeat.
        chord: the chord at this beat; empty texts in the count-off.
    """

    ns: int
    bar: int
    beat: int
    beats_to_head: int
    chord: ChordMark


class Playing:
    """A performance set on the clock at one tempo. Pure.

    Attributes:
        performance: what is played.
        timeline: ticks to nanoseconds.
        started: when its first tick falls (the count-off's, if it has one).
        downbeat: when the intro's first downbeat falls.
        landing: when the head's downbeat falls.
    """

    def __init__(self, performance: Performance, start: int) -> None:
        pace = ns_per_tick(performance.tempo)
        self.performance = performance
        self.timeline = Timeline.starting(performance.start_tick, start, pace)
        self.started = start
        self.downbeat = self._ns(0)
        self.landing = self._ns(performance.head_tick)
        self._next_tick = -(-performance.start_tick // TICKS_PER_QUARTER) * TICKS_PER_QUARTER

    @property
    def next_beat(self) -> int | None:
        """When the next beat before the head falls; None when there is none."""
        return self._ns(self._next_tick) if self._next_tick < self.performance.head_tick else None

    def take_beat(self) -> Beat:
        """The next beat, each told once."""
        tick, performance = self._next_tick, self.performance
        self._next_tick += TICKS_PER_QUARTER
        bar, beat = divmod(tick // TICKS_PER_QUARTER, performance.beats)
        to_head = -(-(performance.head_tick - tick) // TICKS_PER_QUARTER)
        return Beat(self._ns(tick), bar + 1, beat + 1, to_head, self._chord(tick))

    def _chord(self, tick: int) -> ChordMark:
        chords = self.performance.chords
        at = bisect_right(chords, tick, key=lambda chord: chord.tick)
        return chords[at - 1] if at else _NO_CHORD

    def _ns(self, tick: int) -> int:
        ns = self.timeline.ns(tick)
        if ns is None:
            raise ValueError(f"time is held at tick {tick}")
        return ns
