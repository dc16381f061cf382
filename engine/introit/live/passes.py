"""Practising: what begins by itself after a rest, and when. Pure."""

from __future__ import annotations

from introit.live.choice import Choice
from introit.live.course import Course
from introit.live.events import Following
from introit.live.playing import Playing
from introit.performance import Performance


class Passes:
    """One pass after another, each of them a performance with a rest behind it.

    What follows is taken as late as can be: a beat, and what the ports look ahead, before it begins. A press
    in the rest can so still decide what that is. A stop in the rest makes it ready: the pass before is over.

    Args:
        choice: what is ready; a pass that begins takes that place.
        course: what plays.
    """

    def __init__(self, choice: Choice, course: Course) -> None:
        self._choice = choice
        self._course = course
        self._following: Performance | None = None
        self._ends = False
        self._number = self._begun = 0
        self._stopped = True
        self._begins: int | None = None

    def learn(self, event: Following) -> bool:
        """What follows, or that nothing does. Until then the same is played again.

        Returns:
            Whether it is ready now, for nothing has begun since the last stop.
        """
        if self._stopped and event.performance is not None:
            self._take(event.performance, event.number)
            return True
        if event.number > self._begun:
            self._following, self._ends = event.performance, event.performance is None
            self._number = event.number
        return False

    def rest(self, landed: Playing) -> None:
        """A pass has landed, and its rest begins."""
        self._begins = landed.rested

    def stop(self, *, resting: bool) -> None:
        """Nothing plays any more; where a rest was stopped in, what was to follow is what a press plays."""
        self._stopped = True
        if resting and self._following is not None:
            self._take(self._following, self._number)

    def entered(self) -> None:
        """Something is played."""
        self._stopped = False

    def forget(self) -> None:
        """Nothing begins by itself any more."""
        self._begins = None

    def _take(self, performance: Performance, number: int) -> None:
        self._choice.follow(performance)
        self._following, self._begun = None, number

    @property
    def due(self) -> int | None:
        """When what follows is to be begun; None while nothing rests."""
        if self._begins is None:
            return None
        return self._begins - self._course.beat_ns - self._course.outputs.longest_lookahead

    def begin(self, now: int) -> bool:
        """Begins what follows, where the rest ends; False where nothing does."""
        begins, self._begins = self._begins, None
        if begins is None or self._ends or self._choice.ready is None:
            return False
        if self._following is not None:
            self._take(self._following, self._number)
        self._course.begin(self._choice.ready, begins, now)
        return True
