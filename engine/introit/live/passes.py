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
    in the rest can so still decide what that is.

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
        self._before: tuple[Performance, int] | None = None
        self._begins: int | None = None

    def learn(self, event: Following) -> None:
        """What follows, or that nothing does. Until then the same is played again."""
        if event.number > self._begun:
            self._following, self._ends = event.performance, event.performance is None
            self._number = event.number

    def rest(self, landed: Playing) -> None:
        """A pass has landed, and its rest begins."""
        self._begins = landed.rested

    def take_back(self) -> None:
        """What has been begun was stopped before its first downbeat: the pass before is what comes again."""
        if self._before is None:
            return
        begun = self._choice.ready
        performance, self._begun = self._before
        self._before = None
        if self._following is None:
            self._following = begun
        self._choice.follow(performance)

    def entered(self) -> None:
        """What has been begun has come to its first downbeat."""
        self._before = None

    def forget(self) -> None:
        """Nothing begins by itself any more; what was to follow still would after what is played next."""
        self._begins = None

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
            self._before = self._choice.ready, self._begun
            self._choice.follow(self._following)
            self._begun = self._number
        self._following = None
        self._course.begin(self._choice.ready, begins, now)
        return True
