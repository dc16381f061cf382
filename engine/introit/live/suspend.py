"""Suspend: noticing that the machine has slept, and repeating offs for a while after it has woken."""

from __future__ import annotations

from typing import Final

from introit.live.events import Slept
from introit.units import NS_PER_MS

LEAST_NS: Final = 50 * NS_PER_MS
"""No machine falls asleep and wakes within this; the two clocks are compared to within a millisecond."""
REPEATS_NS: Final = (100 * NS_PER_MS, 500 * NS_PER_MS, 1500 * NS_PER_MS)
"""So long after waking the offs go out again: a cable's driver may need that long to be there."""
LOOK_BACK_NS: Final = 1000 * NS_PER_MS
"""So long before it, what was sent may have been lost on the way as well."""


class Suspend:
    """Compares what the clock tells of sleep, turn by turn. Pure."""

    def __init__(self) -> None:
        self._asleep: int | None = None
        self._repeats: list[int] = []
        self._since = 0

    def has_been(self, asleep: int | None) -> bool:
        """Whether the machine has slept since the last `look`; see `Clock.asleep`."""
        before = self._asleep
        return before is not None and asleep is not None and asleep - before >= LEAST_NS

    def look(self, asleep: int | None, now: int) -> Slept | None:
        """What is to be heard, once for each sleep."""
        before, been = self._asleep or 0, self.has_been(asleep)
        if asleep is None:
            return None
        if self._asleep is None or been:
            self._asleep = asleep
        if not been:
            return None
        self._repeats = [now + after for after in REPEATS_NS]
        self._since = now - LOOK_BACK_NS
        return Slept(asleep - before)

    @property
    def next_due(self) -> int | None:
        """When offs are to be repeated next."""
        return self._repeats[0] if self._repeats else None

    def repeats(self, now: int) -> int | None:
        """Where offs are to be repeated now: since when; each time is told once."""
        due = [at for at in self._repeats if at <= now]
        self._repeats = [at for at in self._repeats if at > now]
        return self._since if due else None
