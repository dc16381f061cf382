"""How often somebody may do something. Pure: times are passed in, in seconds of any one clock."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Final

_MOST_KEPT: Final = 1024
"""Whoever comes from ever new addresses must not fill the memory."""


@dataclass(frozen=True, slots=True)
class Rate:
    """So many at once, and so many a second after that.

    Attributes:
        burst: how many at once; at least 1.
        per_second: how many come back a second.
    """

    burst: int
    per_second: float


class Rates:
    """Counts what each does, against one rate.

    Args:
        rate: what each may do.
    """

    def __init__(self, rate: Rate) -> None:
        self._rate = rate
        self._left: dict[Hashable, tuple[float, float]] = {}

    def allows(self, who: Hashable, now: float) -> bool:
        """Whether this one may do it once more now; counts it where it may."""
        left = self._left_to(who, now)
        may = left >= 1
        self._left.pop(who, None)  # who comes last stands last: the first is the one to forget
        self._left[who] = (left - 1 if may else left, now)
        if len(self._left) > _MOST_KEPT:
            del self._left[next(iter(self._left))]
        return may

    def _left_to(self, who: Hashable, now: float) -> float:
        left, then = self._left.get(who, (float(self._rate.burst), now))
        return min(self._rate.burst, left + max(0.0, now - then) * self._rate.per_second)
