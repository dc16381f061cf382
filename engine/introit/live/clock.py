"""Clocks: now, and a wait that what is heard can end."""

from __future__ import annotations

import random
import time
from typing import Protocol

from introit.live.inbox import Inbox
from introit.units import NS_PER_SECOND

OFFSET_MAX_SECONDS = 100_000_000
SPIN_NS = 500_000
"""The last so many nanoseconds before an exact deadline are spent awake: a sleep ends late, never early."""


class Clock(Protocol):
    """What the loop asks of time: nanoseconds, 0 or more, never going back."""

    def now(self) -> int:
        """The present, in nanoseconds."""

    def wait(self, until: int | None, inbox: Inbox, *, exact: bool = True) -> None:
        """Returns at `until` (None: never), or as soon as the inbox has something.

        Args:
            until: a deadline on this clock; at once when it has passed.
            inbox: what ends the wait early; descriptors it watches do too.
            exact: False when being late by what a sleep is usually late does no harm.
        """


class SystemClock:
    """The machine's monotonic clock, moved by a large random offset so that mixing clocks shows at once."""

    def __init__(self, offset: int | None = None) -> None:
        self._offset = random.randrange(OFFSET_MAX_SECONDS) * NS_PER_SECOND if offset is None else offset

    def now(self) -> int:
        """The present, in nanoseconds."""
        return time.monotonic_ns() + self._offset

    def wait(self, until: int | None, inbox: Inbox, *, exact: bool = True) -> None:
        """See `Clock.wait`: sleeps to just before an exact deadline, then stays awake for it."""
        if until is None:
            inbox.wait(None)
            return
        left = until - self.now() - (SPIN_NS if exact else 0)
        if left > 0 and inbox.wait(left / NS_PER_SECOND):
            return
        while exact and self.now() < until and not inbox.pending:
            pass
