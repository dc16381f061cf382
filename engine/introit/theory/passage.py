"""A chord in its passage: where it stands in the key, what follows, and how the root gets there."""

from __future__ import annotations

from dataclasses import dataclass

from introit.theory.key import Key, Mode
from introit.theory.numeral import Numeral
from introit.theory.quality import Family
from introit.theory.target import FIFTH_DOWN, HALF_STEP_DOWN, LocalKey, root_of

NUMBERS = ("one", "two", "three", "four", "five", "six", "seven")
PLACES = (
    "one", "flat two", "two", "flat three", "three", "four",
    "raised four", "five", "flat six", "six", "flat seven", "seven",
)  # fmt: skip
"""Names of the degrees by semitones above the tonic."""

HALF_STEP_UP = 1
WHOLE_STEP_UP = 2
TRITONE = 6

_EXPECTED = {False: frozenset({2, 4, 5, 7, 9}), True: frozenset({2, 3, 5, 7, 8, 10})}
"""Degrees, by whether the key is minor, that have a chord of the key besides the tonic."""


@dataclass(frozen=True, slots=True)
class Passage:
    """A chord and its next one, measured in semitones above the tonic of the key.

    Attributes:
        numeral: the chord.
        here: its root, 0 to 11.
        after: the next chord's root, or None.
        following: the next chord, or None.
        minor: True in a minor key.
    """

    numeral: Numeral
    here: int
    after: int | None
    following: Numeral | None
    minor: bool

    @classmethod
    def of(cls, numeral: Numeral, key: Key, following: Numeral | None) -> Passage:
        """A chord of a key and the one after it, where known."""
        local = LocalKey(key.tonic, key.mode)
        after = None if following is None else local.semitones(root_of(following, key))
        here = local.semitones(root_of(numeral, key))
        return cls(numeral, here, after, following, local.mode is Mode.MINOR)

    @property
    def movement(self) -> int | None:
        """Semitones up to the next root, 0 to 11."""
        return None if self.after is None else (self.after - self.here) % 12

    def place(self, up: int = 0) -> str:
        """The name of the degree so many semitones above this chord's root; chords as they are written."""
        there = self.numeral if up == 0 else self.following if up == self.movement else None
        if there is not None and there.applied is None:
            sign = {-1: "flat ", 0: "", 1: "raised "}[there.alter]
            return sign + NUMBERS[there.degree - 1]
        return PLACES[(self.here + up) % 12]

    @property
    def leads_in_key(self) -> bool:
        """True when the key has a chord a fifth below that a listener expects."""
        return (self.here + FIFTH_DOWN) % 12 in _EXPECTED[self.minor]

    @property
    def dominant_follows(self) -> bool:
        """True when the next chord has a seventh and a major or suspended third: it can lead on."""
        if self.following is None or self.following.is_minor:
            return False
        kind = self.following.kind
        return kind.family is not Family.MAJOR and kind.has_seventh

    @property
    def major_or_suspended_follows(self) -> bool:
        """True when the next chord can be a dominant, as a plain triad too."""
        if self.following is None or self.following.is_minor:
            return False
        kind = self.following.kind
        return kind.family is not Family.MAJOR or not kind.has_seventh

    @property
    def two_five_into(self) -> str | None:
        """The place that a two-five starting here leads into, when its dominant follows."""
        follows = self.movement == FIFTH_DOWN and self.dominant_follows
        return self.place(2 * FIFTH_DOWN) if follows else None

    @property
    def sounds_as_suspended_five(self) -> bool:
        """True for two, four or flat six over five in the bass: its tones hold the fourth, not the third."""
        if (self.numeral.bass_degree, self.numeral.bass_alter) != (5, 0) or self.here not in {2, 5, 8}:
            return False
        return self.numeral.kind.family in {Family.MAJOR, Family.MINOR, Family.HALF_DIMINISHED} and not (
            self.here == 2 and not self.numeral.is_minor
        )

    def half_step(self) -> str:
        """`slides down a half step to three`, where the next root lies a half step away; else nothing."""
        if self.movement == HALF_STEP_DOWN:
            return f"slides down a half step to {self.place(HALF_STEP_DOWN)}"
        if self.movement == HALF_STEP_UP:
            return f"slides up a half step to {self.place(HALF_STEP_UP)}"
        return ""

    def motion(self) -> str:
        """Where the root goes from here, whatever the distance; nothing where it is not known or stays."""
        return self.half_step() or (f"moves to {self.place(self.movement)}" if self.movement else "")
