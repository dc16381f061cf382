"""What is to be practised of a tune, and by when: homework, as a set says it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from introit.theory.key import Key


@dataclass(frozen=True, slots=True)
class Goal:
    """What is asked for of one tune.

    Attributes:
        keys: in which it shall be played, each once; the tune's own mode, whatever its name.
        tempo: quarter notes a minute, at least; None for the tune's own.
        clean: how many clean passes in each key.
        by: the last day for it, as `2026-12-10`; None for any.
        since: the first day whose passes count, likewise; None for the first there is.
    """

    keys: tuple[Key, ...]
    tempo: float | None = None
    clean: int = 1
    by: str | None = None
    since: str | None = None

    @property
    def last_day(self) -> date | None:
        """`by` as a date."""
        return None if self.by is None else date.fromisoformat(self.by)

    @property
    def first_day(self) -> date | None:
        """`since` as a date."""
        return None if self.since is None else date.fromisoformat(self.since)
