"""How the hand moves along the neck in time: how far without a rest, and what rest it needs to go farther."""

from __future__ import annotations

from collections.abc import Iterable

from introit.arrange.score import ScoreNote
from introit.theory.hand import LITTLE
from introit.units import TICKS_PER_QUARTER

FREE_SHIFT = 4
"""Frets that the hand moves without a rest, and oftener than once a bar (common practice, no source)."""
REST = TICKS_PER_QUARTER // 2
"""Ticks without a stopped note in which it may jump."""
SHORTEST = TICKS_PER_QUARTER // 4
"""Ticks that a note sounds at least before it is let go for the sake of what comes."""


def position_of(notes: Iterable[ScoreNote]) -> int:
    """The fret at which the index lies or would lie, told by the lowest finger at work; 0 for none."""
    fingered = [
        (note.finger, note.fret) for note in notes if note.fret and note.finger and note.finger <= LITTLE
    ]
    if not fingered:
        return 0
    finger, fret = min(fingered)
    return max(1, fret - finger + 1)
