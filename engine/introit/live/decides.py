"""What the loop drives: a session, or what only measures in its place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from introit.live.events import Effect, Event, Hand
from introit.live.setup import Setup


class Decides(Protocol):
    """A plain state machine from what is heard to what is to be done; times are the session clock's ns."""

    @property
    def setup(self) -> Setup:
        """What it was made with."""

    @property
    def reason(self) -> str:
        """Why it finished; empty until then."""

    @property
    def state(self) -> str:
        """A state's name."""

    @property
    def finished(self) -> bool:
        """Whether the loop is to leave."""

    def hear(self, event: Event, now: int) -> None:
        """Takes what came in."""

    def take(self, until: int) -> Sequence[Effect]:
        """What is to be done by then."""

    def farewell(self, now: int) -> Sequence[Hand]:
        """What is told to the ports last of all, once everything has been silenced."""

    def next_due(self) -> int | None:
        """When `take` next has something; None for not before something is heard."""
