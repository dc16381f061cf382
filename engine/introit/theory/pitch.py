"""Spelled pitch classes: a letter and its accidentals, no octave.

Semitones are counted from C = 0. Degrees are counted from 1 and measured against the major scale of the tone
they stand on, so `C.up(9, -1)` is Db and `C.up(3, -1)` is Eb.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from introit.errors import NotationError

LETTERS = "CDEFGAB"
NATURALS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)
"""Semitones of the degrees 1 to 7 of the major scale above its tonic."""

_SIGNS = str.maketrans({"♭": "b", "♯": "#"})
_ACCIDENTALS = re.compile(r"b{1,3}|#{1,3}|")
_DEGREE = re.compile(r"(b{1,2}|#{1,2}|)(1[0-3]|[1-9])")


@dataclass(frozen=True, slots=True)
class Tone:
    """A spelled pitch class.

    Attributes:
        letter: `A` to `G`.
        alter: semitones from the natural: -2 to 2 in keys and chords as they are met, -3 to 3 at the very
            edge.
    """

    letter: str
    alter: int = 0

    def __post_init__(self) -> None:
        if self.letter not in NATURALS or not -5 <= self.alter <= 5:
            raise ValueError(f"no such tone: letter {self.letter!r}, alter {self.alter}")

    @property
    def pitch_class(self) -> int:
        """0 to 11, C = 0."""
        return (NATURALS[self.letter] + self.alter) % 12

    def __str__(self) -> str:
        return self.letter + ("#" * self.alter if self.alter > 0 else "b" * -self.alter)

    @classmethod
    def from_text(cls, text: str) -> Tone:
        """Reads `Bb`, `C#`, `F##`, `E♭`; the letter may be small.

        Raises:
            NotationError: if the text is not one letter A to G with at most three flats or sharps.
        """
        tone, end = read_tone(text, 0)
        if end != len(text):
            raise NotationError(
                text, end, "a note is a letter A to G and its flats (b) or sharps (#), no more"
            )
        return tone

    def up(self, degree: int, alter: int = 0) -> Tone:
        """The tone a chord or scale degree above this one.

        Args:
            degree: from 1 (this tone) to 13 and beyond, counted on the major scale of this tone.
            alter: semitones by which that scale's degree is raised or, below zero, lowered.
        """
        letter = LETTERS[(LETTERS.index(self.letter) + degree - 1) % 7]
        distance = self.pitch_class + MAJOR_SCALE[(degree - 1) % 7] + alter - NATURALS[letter]
        return Tone(letter, (distance + 5) % 12 - 5)

    def names(self) -> tuple[Tone, ...]:
        """Every name of this pitch class with at most a double accidental, by letter from C."""
        return tuple(
            Tone(letter, alter)
            for letter in LETTERS
            if -2 <= (alter := (self.pitch_class - NATURALS[letter] + 5) % 12 - 5) <= 2
        )


def read_tone(text: str, position: int) -> tuple[Tone, int]:
    """Reads a tone that starts at a position of a text.

    Returns:
        The tone and the position after it.

    Raises:
        NotationError: if no note name starts there.
    """
    plain = text.translate(_SIGNS)
    letter = plain[position : position + 1].upper()
    if letter not in NATURALS or not letter:
        raise NotationError(text, position, "a note name starts with a letter A to G")
    found = _ACCIDENTALS.match(plain, position + 1)
    signs = found.group() if found else ""
    return Tone(letter, signs.count("#") - signs.count("b")), position + 1 + len(signs)


@lru_cache(maxsize=256)
def read_degree(text: str) -> tuple[int, int]:
    """Reads a degree such as `5`, `b9` or `#11`.

    Returns:
        The degree, 1 to 13, and its alteration in semitones.

    Raises:
        NotationError: if the text is not a degree.
    """
    found = _DEGREE.fullmatch(text.translate(_SIGNS))
    if not found:
        raise NotationError(
            text, 0, "a degree is a number 1 to 13, with b or # before it where it is altered"
        )
    signs, number = found.groups()
    return int(number), signs.count("#") - signs.count("b")


@lru_cache(maxsize=256)
def semitones_above(text: str) -> int:
    """How far a degree lies above its root within the octave, 0 to 11: `b9` 1, `13` 9.

    Raises:
        NotationError: if the text is not a degree.
    """
    number, alter = read_degree(text)
    return (MAJOR_SCALE[(number - 1) % 7] + alter) % 12


def degree_name(degree: int, alter: int) -> str:
    """The text of a degree: `b9`, `5`, `#11`, `bb7`."""
    return ("#" * alter if alter > 0 else "b" * -alter) + str(degree)
