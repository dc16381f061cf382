"""Whether a gesture may act now: what no late, nervous or accidental press may do to the music."""

from __future__ import annotations

from typing import Final

from introit.live.course import Course
from introit.live.gestures import Told
from introit.live.place import Place
from introit.live.states import Action, Gesture, Guard, Row
from introit.units import NS_PER_SECOND

TRAIN: Final = 1.25
"""A press so many beats after a tap is another tap, though the intro has begun."""


class Guards:
    """Applies the table's guards, in beats of what plays. Pure.

    Beside them: taps that go on after a tapped start are taps still, and where a double press tells a hold,
    it silences only if its first press did not fall so close to a start or a nod that it was ignored.

    Args:
        place: where the session is.
        course: what plays.
    """

    def __init__(self, place: Place, course: Course) -> None:
        self._place = place
        self._course = course
        self._tapped: int | None = None

    def ns(self, guard: Guard) -> int:
        """Nanoseconds that a guard lasts."""
        return round(guard.seconds * NS_PER_SECOND) + guard.beats * self._course.beat_ns

    def lets(self, told: Told, row: Row) -> bool:
        """Whether what was told may do what the row says."""
        early = told.ns < self._place.entered + self.ns(row.guard)
        if told.first is not None and row.action is Action.SILENCE:
            return told.first >= self._place.entered + self._course.beat_ns
        if told.gesture is Gesture.PRESS and row.guard.beats and self._is_tap(told.ns, early=early):
            return False
        return not early

    def _is_tap(self, ns: int, *, early: bool) -> bool:
        playing = self._course.playing
        if playing is None or not playing.performance.tapped:
            return False
        goes_on = self._tapped is not None and 0 <= ns - self._tapped < TRAIN * self._course.beat_ns
        if early or goes_on:
            self._tapped = ns
        return goes_on
