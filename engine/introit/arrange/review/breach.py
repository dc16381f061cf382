"""A rule that a score breaks, where it does, and how it is said."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from introit.arrange.score import ScoreNote
from introit.performance import PARTS

_NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


class Breach(NamedTuple):
    """One thing that is wrong with a score.

    Attributes:
        rule: the rule's or the measure's name.
        bar: from 1.
        beat: from 1, with the part of a beat after it.
        text: what is there and what is allowed.
    """

    rule: str
    bar: int
    beat: float
    text: str

    def __str__(self) -> str:
        return f"bar {self.bar} beat {round(self.beat, 2):g}: {self.rule}: {self.text}"


def pitch_name(pitch: int) -> str:
    """A MIDI note as `Eb3`; middle C is C4. Spelled without a key: the flat for every black key."""
    return f"{_NAMES[pitch % 12]}{pitch // 12 - 1}"


def said(note: ScoreNote) -> str:
    """A note with its part, as `comp: Eb3`."""
    return f"{PARTS[note.part]}: {pitch_name(note.pitch)}"


def pitch_names(pitches: Iterable[int]) -> str:
    """Several of them, rising, as `C3 E3 B3`."""
    return " ".join(map(pitch_name, sorted(pitches)))


def share(part: int, whole: int) -> float:
    """A share in percent."""
    return 100.0 * part / whole


def plural(count: float, word: str) -> str:
    """`1 hit`, `2 hits`, `2.5 hits`."""
    return f"{count:g} {word}{'' if count == 1 else 's'}"
