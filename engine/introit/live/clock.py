"""Clocks: now, and a wait that what is heard can end."""

from __future__ import annotations

import random
import time
from typing import Final, Protocol

from introit.live.inbox import Inbox
from introit.units import NS_PER_SECOND

OFFSET_MAX_SECONDS = 100_000_000
SPIN_NS = 500_000
"""The last so many nanoseconds before an exact deadline are spent awake: a sleep ends late, never early."""


_BOOT_TIME: Final[int | None] = getattr(time, "CLOCK_BOOTTIME", None)
_NEAR_NS: Final = NS_PER_SECOND // 1000
"""Two clocks that were not read within this are not compared: we were held up between them."""


def suspended_ns() -> int | None:
    """For how long the machine has been suspended since it was switched on, in nanoseconds.

    Linux has two clocks that differ in nothing else: CLOCK_BOOTTIME goes on while the machine sleeps,
    CLOCK_MONOTONIC stands still (clock_gettime(2)). None on other systems, and when they could not be read
    within a millisecond, which is how exact it is.
    """
    if _BOOT_TIME is None:
        return None
    before = time.clock_gettime_ns(time.CLOCK_MONOTONIC)
    boot = time.clock_gettime_ns(_BOOT_TIME)
    near = time.clock_gettime_ns(time.CLOCK_MONOTONIC) - before < _NEAR_NS
    return boot - before if near else None


class Clock(Protocol):
    """What the loop asks of time: nanoseconds, 0 or more, never going back."""

    def now(self) -> int:
        """The present, in nanoseconds."""

    def asleep(self) -> int | None:
        """Nanoseconds for which the machine has been suspended in all; None where that cannot be told now.

        Where time stands still meanwhile, nothing else tells of it.
        """

    def wait(self, until: int | None, inbox: Inbox, *, exact: bool = True) -> bool:
        """Returns at `until` (None: never), or as soon as the inbox has something.

        Args:
            until: a deadline on this clock; at once when it has passed.
            inbox: what ends the wait early; descriptors it watches do too.
            exact: False when being late by what a sleep is usually late does no harm.

        Returns:
            Whether something ended it early.
        """


class SystemClock:
    """The machine's monotonic clock, moved by a large random offset so that mixing clocks shows at once."""

    def __init__(self, offset: int | None = None) -> None:
        self._offset = random.randrange(OFFSET_MAX_SECONDS) * NS_PER_SECOND if offset is None else offset

    def now(self) -> int:
        """The present, in nanoseconds."""
        return time.monotonic_ns() + self._offset

    def asleep(self) -> int | None:
        """See `Clock.asleep`."""
        return suspended_ns()

    def wait(self, until: int | None, inbox: Inbox, *, exact: bool = True) -> bool:
        """See `Clock.wait`: sleeps to just before an exact deadline, then stays awake for it."""
        if until is None:
            return inbox.wait(None)
        left = until - self.now() - (SPIN_NS if exact else 0)
        if left > 0 and inbox.wait(left / NS_PER_SECOND):
            return True
        while exact and self.now() < until and not inbox.pending:
            pass
        return inbox.pending
