"""While a lesson is open and nothing plays, the foot steps through the intro chord by chord. Pure."""

from __future__ import annotations

from introit.live.choice import Choice
from introit.live.gestures import Told
from introit.live.place import Place
from introit.live.states import STEPS, Ask, Gesture, State


class Steps:
    """Whether a lesson is open, and to which chord one has stepped.

    A press steps on the moment the foot goes down, before anybody knows whether it becomes a hold or the
    first of two. So these two begin from where it stood before: both go to the chord before that.

    Args:
        choice: what is ready.
        place: where the session is.

    Attributes:
        is_open: whether the foot steps while a tune is ready.
    """

    def __init__(self, choice: Choice, place: Place) -> None:
        self._choice = choice
        self._place = place
        self.is_open = False
        self._at = 0
        self._before = (0, 0)
        self._intro = (-1, "")

    @property
    def now(self) -> bool:
        """Whether the foot steps now, and starts nothing."""
        return self.is_open and self._place.state is State.READY

    @property
    def chord(self) -> int:
        """Index of the chord that one has stepped to, from 0; -1 while the foot does not step."""
        if not self.now:
            return -1
        self._look()
        return self._at

    def hear(self, ask: str) -> bool:
        """Opens, closes or steps; False for what is no matter of these, or changes nothing."""
        before = self.chord
        if ask in (Ask.OPEN, Ask.CLOSE):
            self.is_open = ask == Ask.OPEN
            if not self.is_open:
                self._at, self._before = 0, (0, 0)
        elif self.now and ask in (Ask.ON, Ask.BACK):
            self._go_to(self._at + (1 if ask == Ask.ON else -1))
        return self.chord != before

    def takes(self, told: Told) -> bool:
        """Steps, where the foot does; False where a gesture means what the table says."""
        if not self.now or told.gesture not in STEPS:
            return False
        self._look()
        if told.gesture is Gesture.PRESS:
            self._before = (self._before[1], self._at)
            self._go_to(self._at + 1)
        else:
            twice = told.gesture is Gesture.DOUBLE_PRESS or told.first is not None
            self._go_to(self._before[0 if twice else 1] - 1)
            self._before = (self._at, self._at)
        return True

    def _look(self) -> None:
        """Another intro is stepped through from its first chord, another key from where it was."""
        ready = self._choice.ready
        intro = (self._choice.tune, "" if ready is None else ready.intro)
        if intro != self._intro:
            self._intro, self._at, self._before = intro, 0, (0, 0)
        self._go_to(self._at)

    def _go_to(self, chord: int) -> None:
        ready = self._choice.ready
        self._at = max(0, min(chord, 0 if ready is None else len(ready.chords) - 1))
