"""A grip: which string is stopped at which fret, which ring open, which stay silent.

Written as players write it, from the lowest string: `x32010` (x is silent, 0 is open); with a fret of two
digits the strings are parted by hyphens, `x-10-9-9-8-x`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from introit.errors import NotationError
from introit.theory.fretboard import MOST_FRETS, STRING_COUNTS, Fretboard, Place

SILENT = -1
"""Stands in `Grip.frets` for a string that does not sound."""

_PARTED = re.compile(r"[^\s-]+")


@dataclass(frozen=True, slots=True)
class Grip:
    """One note or none on each string.

    Attributes:
        frets: one a string, lowest string first: -1 silent, 0 open, else the fret above the capo.

    Raises:
        ValueError: if there are not six or seven strings, or a fret is out of range.
    """

    frets: tuple[int, ...]

    def __post_init__(self) -> None:
        if len(self.frets) not in STRING_COUNTS:
            raise ValueError(f"a grip has six or seven strings, given are {len(self.frets)}: {self.frets!r}")
        for string, fret in zip(range(len(self.frets), 0, -1), self.frets, strict=True):
            if not SILENT <= fret <= MOST_FRETS:
                raise ValueError(
                    f"string {string} has fret {fret!r}; allowed is -1 (silent), 0 (open) to {MOST_FRETS}"
                )

    @classmethod
    def from_places(cls, places: Iterable[Place], *, strings: int = 6) -> Grip:
        """A grip from its sounding places, in any order; every other string is silent.

        Raises:
            ValueError: if two notes lie on one string, or a string is not there.
        """
        frets = [SILENT] * strings
        for string, fret in places:
            if not 1 <= string <= strings:
                raise ValueError(f"there is no string {string!r}; strings are 1 (the highest) to {strings}")
            if fret < 0:
                raise ValueError(f"string {string} has fret {fret!r}; a sounding note has fret 0 or above")
            if frets[strings - string] != SILENT:
                raise ValueError(
                    f"two notes on string {string}, at frets {frets[strings - string]} and {fret}; "
                    "a string sounds one note at a time"
                )
            frets[strings - string] = fret
        return cls(tuple(frets))

    @classmethod
    def from_text(cls, text: str) -> Grip:
        """Reads `x32010`, `x-10-9-9-8-x` or `x 10 9 9 8 x`, lowest string first.

        Raises:
            NotationError: if a character is neither x, a digit nor a hyphen or space between strings, or
                there are not six or seven strings.
        """
        parted = bool(re.search(r"[\s-]", text.strip()))
        found = [(each.group(), each.start()) for each in re.finditer(_PARTED if parted else r"\S", text)]
        frets = tuple(_read_fret(text, word, position) for word, position in found)
        if len(frets) < min(STRING_COUNTS):
            raise NotationError(text, len(text), f"a grip names six or seven strings, here are {len(frets)}")
        if len(frets) > max(STRING_COUNTS):
            raise NotationError(
                text,
                found[max(STRING_COUNTS)][1],
                "a grip names six or seven strings; frets of two digits need hyphens, as in x-10-9-9-8-x",
            )
        return cls(frets)

    def __str__(self) -> str:
        words = ["x" if fret == SILENT else str(fret) for fret in self.frets]
        return ("-" if max(self.frets) > 9 else "").join(words)

    @property
    def places(self) -> tuple[Place, ...]:
        """The sounding places, lowest string first."""
        strings = len(self.frets)
        return tuple(Place(strings - row, fret) for row, fret in enumerate(self.frets) if fret != SILENT)

    @property
    def strings(self) -> tuple[int, ...]:
        """The string set as players name it, from the highest: (1, 2, 3, 5)."""
        return tuple(place.string for place in reversed(self.places))

    @property
    def adjacent(self) -> bool:
        """True when no silent string lies between sounding ones."""
        strings = self.strings
        return not strings or strings[-1] - strings[0] == len(strings) - 1

    @property
    def fret_span(self) -> int:
        """Frets that the stopped notes cover, as players count: frets 5 to 8 are 4; 0 when all is open."""
        stopped = [fret for fret in self.frets if fret > 0]
        return max(stopped) - min(stopped) + 1 if stopped else 0

    def pitches(self, fretboard: Fretboard) -> tuple[int, ...]:
        """MIDI pitches as they sound, lowest string first (not always lowest pitch first).

        Raises:
            ValueError: if the grip has more or fewer strings than the neck, or a fret it does not have.
        """
        if len(self.frets) != fretboard.strings:
            raise ValueError(
                f"{self} is a grip for {len(self.frets)} strings, the neck has {fretboard.strings}"
            )
        return tuple(fretboard.pitch(string, fret) for string, fret in self.places)


def _read_fret(text: str, word: str, position: int) -> int:
    if word in ("x", "X"):
        return SILENT
    for offset, character in enumerate(word):
        if not ("0" <= character <= "9"):
            raise NotationError(
                text, position + offset, "a string is x (silent), 0 (open) or the number of its fret"
            )
    if int(word) > MOST_FRETS:
        raise NotationError(text, position, f"fret {word} is not on a neck; allowed is 0 to {MOST_FRETS}")
    return int(word)
