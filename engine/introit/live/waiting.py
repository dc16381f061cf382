"""Where time waits in a playing, and what lets it go on: a press, a hold, a bar that is tapped. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from introit.live.timeline import Timeline
from introit.performance import Wait


class Waiting:
    """What is left of a performance's waits. Each call takes the playing's timeline and gives the new one.

    Args:
        waits: in order.
        tapped_on: whether a bar is tapped before time goes on in time.

    Attributes:
        arrived: whether time stands still at the first of them.
    """

    def __init__(self, waits: Sequence[Wait], *, tapped_on: bool = False) -> None:
        self._waits = list(waits)
        self._tapped_on = tapped_on
        self._before_taps: Timeline | None = None
        self.arrived = False

    def __bool__(self) -> bool:
        """Whether time waits somewhere from here."""
        return bool(self._waits)

    @property
    def resumes(self) -> int | None:
        """Tick at which time goes on from where it waits next; None where it does not wait."""
        return self._waits[0].to if self._waits else None

    @property
    def free(self) -> bool:
        """Whether some chord is still played out of time."""
        return any(not wait.fermata for wait in self._waits)

    def arrival(self, timeline: Timeline) -> int | None:
        """When the playing arrives where time waits; None when it has arrived, or does not wait."""
        return None if self.arrived else timeline.arrival

    def hold(self, timeline: Timeline) -> Timeline:
        """Time waits at the first of them."""
        return timeline.hold(self._waits[0].tick) if self._waits else timeline

    def change(self, waits: Sequence[Wait], timeline: Timeline) -> Timeline:
        """The same waits as another performance has them, which are not reached yet."""
        if not self._waits:
            return timeline
        self._waits = list(waits[-len(self._waits) :])
        return self.hold(Timeline(timeline.segments[:-1]))

    def go_on(self, timeline: Timeline, ns: int, pace: Fraction) -> Timeline:
        """Time goes on at `ns`, at the arrival or later."""
        wait = self._waits.pop(0)
        self.arrived = False
        return self.hold(timeline.release(ns, pace, to=wait.to))

    def keep_time(self, timeline: Timeline, now: int, pace: Fraction) -> Timeline:
        """From here on time waits for nothing but a held chord."""
        wait, *later = self._waits
        held = [other for other in later if other.fermata]
        arrival = timeline.arrival
        if arrival is not None and arrival <= now:
            self._waits = [wait, *held]
            return self.go_on(timeline, now, pace)
        self._waits = [wait, *held] if wait.fermata else held
        return self.hold(Timeline(timeline.segments[:-1]))

    # A tapped bar: it may be told anew, tap by tap, until time goes on.

    @property
    def taps_on(self) -> bool:
        """Whether a bar is to be tapped before time goes on from where it waits next."""
        return self._tapped_on and bool(self._waits) and all(wait.fermata for wait in self._waits[1:])

    @property
    def being_tapped(self) -> bool:
        """Whether such a bar is being tapped."""
        return self._before_taps is not None

    def begin_taps(self, timeline: Timeline) -> None:
        """The first tap."""
        self._before_taps = timeline

    def tapped(self, ns: int, pace: Fraction) -> Timeline:
        """Time goes on at `ns`, as far as the taps tell by now; not before the playing arrives."""
        before = self._before_taps
        assert before is not None
        wait, *later = self._waits
        timeline = before.release(max(ns, before.segments[-1].ns), pace, to=wait.to)
        return timeline.hold(later[0].tick) if later else timeline

    def enter(self) -> None:
        """What was tapped is over: time goes on."""
        self._waits.pop(0)
        self.arrived, self._before_taps = False, None

    def forget_taps(self, timeline: Timeline) -> Timeline:
        """The taps led nowhere: it waits as before."""
        before, self._before_taps = self._before_taps, None
        return timeline if before is None else before
