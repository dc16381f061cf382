"""What a lesson's page asks for: that the foot steps, and that bars go round. Pure."""

from __future__ import annotations

from typing import Final

from introit.live.choice import Choice
from introit.live.course import Course
from introit.live.display import Display
from introit.live.events import Taught
from introit.live.looping import bars_of
from introit.live.place import Place
from introit.live.readying import Readying
from introit.live.states import Ask, State
from introit.live.steps import Steps

_LOOPS: Final = (State.READY, State.PLAYING, State.VAMPING)
"""Where bars may be made to go round."""


class Lesson:
    """Does what is asked for, as far as that is no start.

    Args:
        steps: where the foot steps.
        choice: what is ready.
        course: what plays.
        readying: may wait with a start, which a loop takes the place of.
        place: where the session is.
        display: what is told.
    """

    def __init__(
        self,
        steps: Steps,
        choice: Choice,
        course: Course,
        readying: Readying,
        *,
        place: Place,
        display: Display,
    ) -> None:
        self._steps = steps
        self._choice = choice
        self._course = course
        self._readying = readying
        self._place = place
        self._display = display

    def hear(self, event: Taught, *, time: int, now: int) -> tuple[State, int] | None:
        """Does it where it means something now; the state that begins, and when, where one does."""
        if event.ask == Ask.LOOP:
            return self._loop(event.first, event.last, time=time, now=now)
        if self._steps.hear(event.ask):
            self._display.show("step", time)
        return None

    def _loop(self, first: int, last: int, *, time: int, now: int) -> tuple[State, int] | None:
        ready = self._choice.ready
        ticks = None if ready is None else bars_of(ready, first, last)
        if self._place.state not in _LOOPS:
            self._display.show("note", time, text=f"loop: not while {self._place.state}")
        elif ready is None or ticks is None:
            self._display.show("note", time, text="the intro has no such bars")
        else:
            self._readying.start_until = None
            return self._course.loop(ready, ticks, now)
        return None
