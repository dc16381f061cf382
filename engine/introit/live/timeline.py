"""The timeline: the one border between score time (ticks) and clock time (nanoseconds).

Immutable. Each segment says at what nanosecond its first tick falls and how long a tick lasts from there,
exactly, or that time is held there. Times are computed from the segment's beginning, never summed, so nothing
drifts.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, NamedTuple

HELD: Final = None
"""In place of a pace: time stands still until it is released."""


class Segment(NamedTuple):
    """From `tick` on, until the next segment.

    Attributes:
        tick: first tick.
        ns: when that tick falls; while held, when the playing arrived there.
        pace: nanoseconds a tick, above 0, or `HELD`.
    """

    tick: int
    ns: int
    pace: Fraction | None


@dataclass(frozen=True, slots=True)
class Timeline:
    """Segments ordered by tick and by time; the last one has no end.

    Before the first segment, time runs at the first segment's pace. While time is held at a tick, that tick
    and all later ones have no time yet: what sounds there waits for the release.
    """

    segments: tuple[Segment, ...]

    @classmethod
    def starting(cls, tick: int, ns: int, pace: Fraction) -> Timeline:
        """A timeline whose `tick` falls at `ns`, at one pace (nanoseconds a tick, above 0) for ever."""
        return cls((Segment(tick, ns, _checked(pace)),))

    def ns(self, tick: int) -> int | None:
        """When a tick falls, to the nearest nanosecond; None when time is held at or before it."""
        number = self._number_of(tick)
        segment = self.segments[number]
        if segment.pace is HELD:
            # Once released, what was passed over falls together with where time goes on.
            return self.segments[number + 1].ns if number + 1 < len(self.segments) else None
        return segment.ns + _rounded((tick - segment.tick) * segment.pace.numerator, segment.pace.denominator)

    def tick(self, ns: int) -> int:
        """The last tick that falls at or before `ns`; while held, the tick before the held one has passed."""
        segment = self.segments[0]
        for later in self.segments[1:]:
            if later.ns > ns:
                break
            segment = later
        if segment.pace is HELD:
            return segment.tick - 1
        # ns(t) <= ns  <=>  t * pace < elapsed + 1/2, solved for the greatest whole t.
        doubled, width = (2 * (ns - segment.ns) + 1) * segment.pace.denominator, 2 * segment.pace.numerator
        return segment.tick - (-doubled // width) - 1

    def retime(self, tick: int, pace: Fraction) -> Timeline:
        """The same up to `tick`, another pace from there on; segments from `tick` on are dropped.

        Raises:
            ValueError: if time is held at or before `tick`, or the pace is not above 0.
        """
        return self._then(tick, _checked(pace))

    def hold(self, tick: int) -> Timeline:
        """The same up to `tick`, which waits to be released; segments from `tick` on are dropped.

        Raises:
            ValueError: if time is held at or before `tick` already.
        """
        return self._then(tick, HELD)

    def release(self, ns: int, pace: Fraction, *, to: int | None = None) -> Timeline:
        """Goes on from where time is held.

        Args:
            ns: when it does.
            pace: nanoseconds a tick from there on.
            to: the tick that falls then, at or after the held one, which is meant when left out; what lies
                between falls then too.

        Raises:
            ValueError: if time is not held, `ns` is before the playing arrived there, `to` is before the held
            tick, or the pace is not above 0.
        """
        held = self.segments[-1]
        if held.pace is not HELD:
            raise ValueError("time is not held, so it cannot be released")
        if ns < held.ns:
            raise ValueError(f"released at {ns} ns, before the playing arrived there at {held.ns} ns")
        if to is not None and to < held.tick:
            raise ValueError(f"time goes on at tick {to}, before tick {held.tick}, where it is held")
        return Timeline((*self.segments, Segment(held.tick if to is None else to, ns, _checked(pace))))

    @property
    def arrival(self) -> int | None:
        """When the playing arrives where time is held; None while nothing holds it."""
        last = self.segments[-1]
        return last.ns if last.pace is HELD else None

    def _then(self, tick: int, pace: Fraction | None) -> Timeline:
        ns = self.ns(tick)
        if ns is None:
            raise ValueError(f"time is held at or before tick {tick}")
        kept = tuple(segment for segment in self.segments if segment.tick < tick)
        return Timeline((*kept, Segment(tick, ns, pace)))

    def _number_of(self, tick: int) -> int:
        for number in range(len(self.segments) - 1, -1, -1):
            if self.segments[number].tick <= tick:
                return number
        return 0


def _checked(pace: Fraction) -> Fraction:
    if pace <= 0:
        raise ValueError(f"pace is {pace} ns a tick; allowed is anything above 0")
    return pace


def _rounded(numerator: int, denominator: int) -> int:
    return (2 * numerator + denominator) // (2 * denominator)
