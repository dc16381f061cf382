"""Meters: so many quarter-note beats in a bar."""

from __future__ import annotations

from dataclasses import dataclass

from introit.errors import NotationError, did_you_mean
from introit.units import TICKS_PER_QUARTER

METERS = ("3/4", "4/4", "5/4")
"""The meters that can be played."""


@dataclass(frozen=True, slots=True, order=True)
class Meter:
    """A meter.

    Attributes:
        beats: quarter notes in a bar: 3, 4 or 5.
    """

    beats: int

    def __post_init__(self) -> None:
        if f"{self.beats}/4" not in METERS:
            raise ValueError(f"a bar has 3, 4 or 5 beats, not {self.beats!r}")

    @property
    def ticks_per_bar(self) -> int:
        """Length of one bar in ticks."""
        return self.beats * TICKS_PER_QUARTER

    def __str__(self) -> str:
        return f"{self.beats}/4"

    @classmethod
    def from_text(cls, text: str) -> Meter:
        """Reads `3/4`, `4/4` or `5/4`.

        Raises:
            NotationError: for anything else; it names the meters allowed.
        """
        plain = "".join(text.split())
        if plain not in METERS:
            known = f"a meter is one of {', '.join(METERS)}. {did_you_mean(plain, METERS)}"
            raise NotationError(text, 0, known.strip().rstrip("."))
        return cls(int(plain[0]))
