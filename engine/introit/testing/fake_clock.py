"""A clock for tests: starts at 0, and moves only when told or to the next deadline of a wait."""

from __future__ import annotations

import heapq
from collections.abc import Callable
from itertools import count

from introit.live.inbox import Inbox


class FakeClock:
    """Reading never moves it, and it never goes back.

    Attributes:
        lateness: told a deadline, says how many nanoseconds after it the wait ends (a busy machine); 0 at
        first.
        suspended: nanoseconds for which the machine has slept, or None; see `suspend`.
    """

    def __init__(self) -> None:
        self._now = 0
        self._order = count()
        self._actions: list[tuple[int, int, Callable[[], object]]] = []
        self.lateness: Callable[[int], int] = lambda _deadline: 0
        self.suspended: int | None = 0

    def now(self) -> int:
        """The present, in nanoseconds."""
        return self._now

    def asleep(self) -> int | None:
        """See `live.clock.Clock.asleep`."""
        return self.suspended

    def suspend(self, ns: int) -> None:
        """The machine sleeps for so long: this clock stands still meanwhile, as Linux's does."""
        self.suspended = (self.suspended or 0) + ns

    def jump(self, ns: int) -> None:
        """Moves to a time, doing on the way what was planned with `at`.

        Raises:
            ValueError: if that lies in the past.
        """
        if ns < self._now:
            raise ValueError(f"a clock does not go back: it is {self._now} ns, asked for {ns} ns")
        while self._actions and self._actions[0][0] <= ns:
            due, _, action = heapq.heappop(self._actions)
            self._now = max(due, self._now)
            action()
        self._now = ns

    def at(self, ns: int, action: Callable[[], object]) -> None:
        """Plans something for a time (at once when that is now); a wait ends there.

        Raises:
            ValueError: if that lies in the past.
        """
        if ns < self._now:
            raise ValueError(f"a clock does not go back: it is {self._now} ns, planned for {ns} ns")
        heapq.heappush(self._actions, (ns, next(self._order), action))

    def wait(self, until: int | None, inbox: Inbox, *, exact: bool = True) -> bool:
        """Moves to `until` or the next planned action, whichever is first; nowhere if the inbox is not empty.

        Returns:
            Whether something, or something planned, ended it early.

        Raises:
            RuntimeError: if it would wait for ever.
        """
        del exact
        if inbox.pending:
            return True
        planned = self._actions[0][0] if self._actions else None
        if until is None and planned is None:
            raise RuntimeError("waiting for ever: no deadline, nothing planned, nothing in the inbox")
        if planned is not None and (until is None or planned <= until):
            self.jump(planned)
            return True
        if until is not None and until > self._now:
            self.jump(until + self.lateness(until))
        return False
