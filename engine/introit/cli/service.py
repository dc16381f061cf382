"""An evening that a service manager runs: no terminal, no keys, and somebody who wants to know how it is."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Protocol

from introit.live.events import Shown


class Tells(Protocol):
    """See `notify.Notifier`."""

    def tell(self, **fields: object) -> None:
        """Sends one message."""

    def alive(self, now: int) -> None:
        """Feeds the watchdog."""


class Service:
    """What the front does for its manager, in its own loop.

    Args:
        notifier: the way to the manager; None where nobody listens.
        clock: nanoseconds.
    """

    def __init__(self, notifier: Tells | None, clock: Callable[[], int] = time.monotonic_ns) -> None:
        self._notifier = notifier
        self._clock = clock
        self._status = ""

    def opened(self) -> None:
        """The player has opened its ports: from here on it can be played."""
        self._tell(ready=1)

    def turned(self, *, well: bool) -> None:
        """The loop has gone round once; `well` means that the player's heart beats.

        The watchdog hears of it only then: a player that stands still while the front goes round is no life.
        """
        if well and self._notifier is not None:
            self._notifier.alive(self._clock())

    def shown(self, shown: Shown) -> None:
        """Has the manager's status say what is ready or playing."""
        if shown.what not in ("state", "key") or not shown.title:
            return
        status = f"{shown.state}: {shown.title}, {shown.key}, {shown.tempo:g}"
        if status != self._status:
            self._status = status
            self._tell(status=status)

    def leaving(self, reason: str) -> None:
        """The player is asked to release everything."""
        self._tell(stopping=1, status=f"leaving: {reason}")

    def _tell(self, **fields: object) -> None:
        if self._notifier is not None:
            self._notifier.tell(**fields)
