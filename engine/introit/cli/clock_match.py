"""What the player's clock says, on the clock that every process of the machine shares. Pure.

The player tells a beat when it is due, and it arrives a little later, never sooner. So the smallest of the
last differences is the nearest to the truth, and the two clocks may drift.
"""

from __future__ import annotations

from collections import deque

_KEPT = 64


class ClockMatch:
    """Translates the session's nanoseconds."""

    def __init__(self) -> None:
        self._differences: deque[int] = deque(maxlen=_KEPT)

    def hear(self, ns: int, arrived: int) -> None:
        """Takes in when something happened by the session's clock, and when it arrived by the shared one."""
        self._differences.append(arrived - ns)

    def shared(self, ns: int) -> int:
        """The shared clock's time of a moment of the session's; before anything was heard, the same."""
        return ns + min(self._differences, default=0)

    def forget(self) -> None:
        """Begins anew: another player has another clock."""
        self._differences.clear()
