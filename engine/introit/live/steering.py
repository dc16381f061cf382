"""What changes the course of what plays: a nod, once more, the last bar, on from where time waits. Pure."""

from __future__ import annotations

from typing import Protocol

from introit.live.course import Course
from introit.live.feet import Feet
from introit.live.place import Place
from introit.live.playing import Playing
from introit.live.states import Action, State


class Enter(Protocol):
    """Goes over to a state."""

    def __call__(self, state: State, ns: int) -> None:
        """At a time."""


class Show(Protocol):
    """Tells the player something."""

    def __call__(self, what: str, ns: int, *, text: str) -> None:
        """See `display.Display.show`."""


class Steering:
    """Steers what plays, and goes over to the states that follow.

    Args:
        course: what plays.
        place: the state.
        feet: by which it is steered.
        enter: goes over to another state.
        show: tells the player.
    """

    def __init__(self, course: Course, place: Place, feet: Feet, *, enter: Enter, show: Show) -> None:
        self._course = course
        self._place = place
        self._feet = feet
        self._enter = enter
        self._show = show

    def do(self, playing: Playing, action: Action, ns: int, *, time: int, now: int) -> None:
        """What a gesture or an order asks for.

        Args:
            playing: what plays.
            action: what is asked for; what has no meaning there does nothing.
            ns: when it was asked for.
            time: the session's time.
            now: the present.
        """
        course = self._course
        if action is Action.NOD:
            playing.nodded = True
            self._enter(State.PLAYING, time)
            self._feet.carry(self._place.visit)
        elif action is Action.ONCE_MORE and not playing.in_held_chord(now):
            self._ask_again(playing, time)
        elif action is Action.FINISH:
            early = course.finish_early(playing, now)
            if early or playing.performance.once_more or playing.performance.vamp:
                self._show("note", time, text="to the last bar" if early else "no more rounds")
        elif not playing.waits:
            return  # the last press has let it go on into the head, this instant
        elif action in (Action.GO_ON, Action.ONCE_MORE) and playing.taps_on:
            course.tap_on(playing, ns)
            self._enter(State.TAPPING, ns)
        elif action in (Action.GO_ON, Action.ONCE_MORE):  # the breath, though the chord has only begun
            if course.go_on(playing, now):
                self._gone_on(playing, now)
        elif action is Action.KEEP_TIME:
            course.keep_time(playing, now)
            self._enter(State.PLAYING, time)

    def arrive(self, playing: Playing, ns: int, *, now: int) -> None:
        """It has come to where time waits, at `ns`."""
        if self._course.arrive(playing, now):
            self._gone_on(playing, now)
        elif self._place.state is State.PLAYING:
            self._enter(State.WAITING, ns)

    def _gone_on(self, playing: Playing, now: int) -> None:
        """Time goes on: the state that follows, if it is another one and not the tune itself."""
        lands = playing.landing is not None and playing.landing <= now
        if self._course.state is not self._place.state and not lands:
            self._enter(self._course.state, now)
        elif self._place.state is State.OUT_OF_TIME:
            self._place.entered = now  # the guard runs from the last chord

    def _ask_again(self, playing: Playing, time: int) -> None:
        if playing.may_ask_again(time):
            playing.again = True
            self._show("note", time, text="once more")
        elif playing.performance.once_more and not playing.again:
            self._show("note", time, text="too late for once more")
