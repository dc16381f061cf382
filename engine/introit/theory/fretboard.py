"""Where the notes lie on a guitar's neck: tuning, capo, frets, and how far apart the frets are.

Strings are numbered as players count them: string 1 is the highest. Tuples run the other way, lowest string
first, as a grip is written. Frets are counted from the capo (0 is the open string, or the capo itself).
Pitches are MIDI numbers, middle C = 60, as they sound.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

STANDARD_TUNING = (40, 45, 50, 55, 59, 64)
"""E2 A2 D3 G3 B3 E4, lowest string first (Radicioni and Lombardo 2005, figure 1)."""

STRING_COUNTS = (6, 7)
LOWEST_OPEN, HIGHEST_OPEN = 21, 72
"""Open strings from A0 to C5: past the lowest baritone and the highest strung guitar (no source)."""
MOST_FRETS = 36
SCALE_MM_MIN, SCALE_MM_MAX = 400.0, 800.0
"""From a child's guitar to a long baritone, in millimetres (no source)."""


class Place(NamedTuple):
    """Where a note is played.

    Attributes:
        string: from 1, the highest string, to the number of strings.
        fret: from the capo; 0 is the open string.
    """

    string: int
    fret: int


@dataclass(frozen=True, slots=True)
class Fretboard:
    """A neck: its strings, its frets and its length.

    Attributes:
        tuning: MIDI pitches of the open strings without a capo, lowest string first; six or seven, each
            higher than the one before.
        capo: the fret at which a capo lies, 0 when there is none.
        highest_fret: the last fret that may be used, counted from the nut. Its default, 20, is where most
            hollow-body necks end (common practice, no source).
        scale_mm: scale length, nut to bridge, in millimetres; 648 (25.5 inches) by default.
        open_pitches: MIDI pitches of the strings as they sound open behind the capo, lowest string first.
        frets: how many frets can be used above the capo.
        fret_mm: how far each fret lies from the nut, in millimetres; index is the fret above the capo, and
            index 0 is the capo or the nut.
        fret_table: one row a string, lowest first, of 128 frets: `fret_table[row][pitch]` is the fret of that
            pitch, -1 where the string does not have it. Ready for `numpy.array`.

    Raises:
        ValueError: if such a neck cannot be strung or played; the text says which value, and what is allowed.
    """

    tuning: tuple[int, ...] = STANDARD_TUNING
    capo: int = 0
    highest_fret: int = 20
    scale_mm: float = 648.0
    open_pitches: tuple[int, ...] = field(init=False, repr=False, compare=False)
    frets: int = field(init=False, repr=False, compare=False)
    fret_mm: tuple[float, ...] = field(init=False, repr=False, compare=False)
    fret_table: tuple[tuple[int, ...], ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        _check_tuning(self.tuning)
        _check_frets(self.capo, self.highest_fret)
        if not SCALE_MM_MIN <= self.scale_mm <= SCALE_MM_MAX:
            raise ValueError(
                f"scale length is {self.scale_mm!r}; allowed is {SCALE_MM_MIN:.0f} to {SCALE_MM_MAX:.0f} mm"
            )
        settle = object.__setattr__  # the only way into a frozen value
        settle(self, "open_pitches", tuple(pitch + self.capo for pitch in self.tuning))
        settle(self, "frets", self.highest_fret - self.capo)
        settle(self, "fret_mm", tuple(self._mm(fret + self.capo) for fret in range(self.frets + 1)))
        settle(self, "fret_table", tuple(self._row(pitch) for pitch in self.open_pitches))

    @property
    def strings(self) -> int:
        """How many strings there are, 6 or 7."""
        return len(self.tuning)

    def pitch(self, string: int, fret: int) -> int:
        """The MIDI pitch that sounds at a place.

        Raises:
            ValueError: if there is no such string or fret.
        """
        if not 1 <= string <= self.strings:
            raise ValueError(f"there is no string {string!r}; strings are 1 (the highest) to {self.strings}")
        if not 0 <= fret <= self.frets:
            raise ValueError(f"there is no fret {fret!r}; frets above the capo are 0 (open) to {self.frets}")
        return self.open_pitches[self.strings - string] + fret

    def fret(self, pitch: int, string: int) -> int | None:
        """The fret of a MIDI pitch on a string, None where that string does not have it.

        Raises:
            ValueError: if there is no such string.
        """
        open_pitch = self.pitch(string, 0)
        return pitch - open_pitch if 0 <= pitch - open_pitch <= self.frets else None

    def places(self, pitch: int) -> tuple[Place, ...]:
        """Every place of a MIDI pitch, from string 1 down; empty where the neck does not have it."""
        return tuple(
            Place(string, fret)
            for string in range(1, self.strings + 1)
            if (fret := self.fret(pitch, string)) is not None
        )

    def _mm(self, fret: int) -> float:
        """Nut to fret: each fret cuts the sounding string by a semitone, a factor of 2^(-1/12)."""
        return float(self.scale_mm * (1 - 2 ** (-fret / 12)))

    def _row(self, open_pitch: int) -> tuple[int, ...]:
        return tuple(
            pitch - open_pitch if 0 <= pitch - open_pitch <= self.frets else -1 for pitch in range(128)
        )


def _check_tuning(tuning: tuple[int, ...]) -> None:
    if len(tuning) not in STRING_COUNTS:
        raise ValueError(f"a tuning has six or seven strings, given are {len(tuning)}: {tuning!r}")
    for number, pitch in zip(range(len(tuning), 0, -1), tuning, strict=True):
        if not LOWEST_OPEN <= pitch <= HIGHEST_OPEN:
            raise ValueError(
                f"string {number} is tuned to MIDI {pitch!r}; "
                f"allowed is {LOWEST_OPEN} (A0) to {HIGHEST_OPEN} (C5)"
            )
    for number, (lower, upper) in enumerate(pairwise(tuning)):
        if lower >= upper:
            string = len(tuning) - number
            raise ValueError(
                f"string {string} (MIDI {lower}) must be lower than string {string - 1} (MIDI {upper}); "
                "a tuning is given from the lowest string"
            )


def _check_frets(capo: int, highest_fret: int) -> None:
    if not 1 <= highest_fret <= MOST_FRETS:
        raise ValueError(f"the highest fret is {highest_fret!r}; allowed is 1 to {MOST_FRETS}")
    if not 0 <= capo < highest_fret:
        raise ValueError(
            f"the capo is at fret {capo!r}; allowed is 0 (none) to {highest_fret - 1}, "
            f"below the highest fret, {highest_fret}"
        )
