"""Where the session is: its state, since when, and the number of the visit to it."""

from __future__ import annotations

from introit.live.states import Action, Gesture, State, row_for


class Place:
    """The present state. Whoever shares it sees it change.

    Attributes:
        state: where the session is.
        entered: nanosecond at which it came there.
        visit: grows with every state that is entered.
    """

    def __init__(self) -> None:
        self.state = State.READY
        self.entered = self.visit = 0

    def enter(self, state: State, ns: int) -> None:
        """Another state begins, or the same anew."""
        self.state, self.entered = state, ns
        self.visit += 1

    @property
    def takes_keys(self) -> bool:
        """Whether a key note names a key here."""
        return row_for(self.state, Gesture.KEY_NOTE).action is Action.REKEY

    @property
    def starts_by_key(self) -> bool:
        """Whether a key note may start the intro here, if the rig says so."""
        return row_for(self.state, Gesture.KEY_NOTE).guard.may_start
