"""The melody's phrases, and how high the comp may go under them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from introit.arrange.score import ScoreNote
from introit.units import TICKS_PER_QUARTER

UNDER_MELODY = 3
"""Semitones that the comp keeps under a melody note that it sounds with: a minor third."""
REST = TICKS_PER_QUARTER
"""A rest of a beat parts two phrases."""


class Phrase(NamedTuple):
    """A stretch of melody without a rest.

    Attributes:
        start, end: ticks.
        lowest: its lowest MIDI note.
    """

    start: int
    end: int
    lowest: int


def phrases_of(melody: Sequence[ScoreNote]) -> Iterator[Phrase]:
    """The phrases of a melody that is ordered by onset."""
    phrase: Phrase | None = None
    for note in melody:
        if phrase is None or note.onset - phrase.end >= REST:
            if phrase is not None:
                yield phrase
            phrase = Phrase(note.onset, note.end, note.pitch)
        else:
            phrase = Phrase(phrase.start, max(phrase.end, note.end), min(phrase.lowest, note.pitch))
    if phrase is not None:
        yield phrase


def sounding_in(melody: Sequence[ScoreNote], start: int, end: int) -> frozenset[int]:
    """MIDI notes of a melody that sound within a stretch of ticks."""
    return frozenset(note.pitch for note in melody if note.onset < end and start < note.end)


def ceiling_under(
    melody: Sequence[ScoreNote], phrases: Sequence[Phrase], start: int, end: int, *, highest: int
) -> int:
    """The highest MIDI note of a comp within a stretch of ticks.

    A third under what sounds with it, and under all of a phrase that lasts: the melody's octave is its own.

    Args:
        melody: ordered by onset.
        phrases: its own.
        start: tick at which the stretch begins.
        end: tick at which it ends.
        highest: where no melody is near.
    """
    over = (pitch - UNDER_MELODY for pitch in sounding_in(melody, start, end))
    near = (one.lowest - 1 for one in phrases if one.start < end and start < one.end)
    return min([highest, *over, *near])
