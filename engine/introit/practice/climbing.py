"""A tempo that climbs: up after clean passes, down after two that were not, never out of its bounds."""

from __future__ import annotations

from dataclasses import dataclass, replace

from introit.practice.goal import Climb

MISSES = 2
"""So many passes in a row that were not clean take the tempo down by a step."""


@dataclass(frozen=True, slots=True)
class Climbing:
    """Where a climb is.

    Attributes:
        climb: its bounds and steps.
        steps: from the low bound up, 0 at the bottom.
        clean: clean passes in a row at this tempo; every pass is one where nobody presses.
        missed: passes in a row at this tempo that were not clean.
        down: whether it is on its way back.
    """

    climb: Climb
    steps: int = 0
    clean: int = 0
    missed: int = 0
    down: bool = False

    @property
    def tempo(self) -> float:
        """Quarter notes a minute, within the bounds."""
        return min(round(self.climb.low + self.steps * self.climb.step, 2), self.climb.high)

    @property
    def top(self) -> int:
        """Steps from the low bound to the high one; the last may be shorter."""
        width, step = round(self.climb.high * 100) - round(self.climb.low * 100), round(self.climb.step * 100)
        return -(-width // step)

    def after(self, *, clean: bool) -> Climbing:
        """Where it is after a pass; `clean` does not matter where nobody presses."""
        if not (clean or not self.climb.pressed):
            if self.missed + 1 < MISSES:
                return replace(self, clean=0, missed=self.missed + 1)
            return self._backwards()
        if self.clean + 1 < self.climb.each:
            return replace(self, clean=self.clean + 1, missed=0)
        return self._onwards()

    def _onwards(self) -> Climbing:
        """A step on: up, or down on the way back; there and back again it turns at its bounds."""
        down = self.down
        if self.climb.back and self.steps == (0 if down else self.top):
            down = not down
        steps = self.steps + (-1 if down else 1)
        return Climbing(self.climb, min(max(steps, 0), self.top), down=down)

    def _backwards(self) -> Climbing:
        """A step slower, whichever way it goes; at the bottom it stays."""
        return Climbing(self.climb, max(self.steps - 1, 0), down=self.down)

    def sentence(self) -> str:
        """Where it is, for the screen, such as `1 of 2 clean` or `at the top`."""
        words = []
        if self.climb.each > 1:
            kind = " clean" if self.climb.pressed else ""
            words.append(f"{self.clean} of {self.climb.each}{kind}")
        if self.steps == self.top:
            words.append("at the top")
        elif self.down:
            words.append("on the way back")
        return ", ".join(words)
