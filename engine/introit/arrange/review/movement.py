"""How far voices and hand move in a score: reported, not judged."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from introit.arrange.review.hands import positions
from introit.arrange.review.hearing import Hearing
from introit.arrange.score import Score
from introit.library.measures import Measures


class Movement(NamedTuple):
    """Movement in one score, or in several added up.

    Attributes:
        changes: chord changes in the comp.
        semitones: what its voices move at them, added up: each voice to the nearest voice, on the average.
        worst_semitones: the most at one change.
        shifts: moves of the hand from grip to grip.
        mm: what its position moves at them, added up, in millimetres along the neck.
        worst_mm: the most at once.
    """

    changes: int = 0
    semitones: float = 0.0
    worst_semitones: float = 0.0
    shifts: int = 0
    mm: float = 0.0
    worst_mm: float = 0.0

    def plus(self, other: Movement) -> Movement:
        """Both together."""
        return Movement(
            self.changes + other.changes,
            self.semitones + other.semitones,
            max(self.worst_semitones, other.worst_semitones),
            self.shifts + other.shifts,
            self.mm + other.mm,
            max(self.worst_mm, other.worst_mm),
        )

    def __str__(self) -> str:
        voices = f"{self.semitones / max(1, self.changes):.2f} semitones a voice and change"
        hand = f"{self.mm / max(1, self.shifts):.1f} mm a grip"
        return (
            f"voices move {voices} (worst {self.worst_semitones:.1f}); "
            f"the hand moves {hand} (worst {self.worst_mm:.0f})"
        )


def movement(score: Score, measures: Measures) -> Movement:
    """How far the comp's voices, and the hand on the guitar, move in a score."""
    return movement_in(Hearing(score, None, measures))


def movement_in(hearing: Hearing) -> Movement:
    """The same for a score that has been heard already."""
    voicings = list(_voicings(hearing).values())
    steps = [_step(before, after) for before, after in pairwise(voicings)]
    mm = hearing.scene.stage.fretboard.fret_mm
    places = [mm[min(position, len(mm) - 1)] for _, position, _ in positions(hearing)]
    shifts = [abs(after - before) for before, after in pairwise(places)]
    return Movement(
        len(steps), sum(steps), max(steps, default=0.0), len(shifts), sum(shifts), max(shifts, default=0.0)
    )


def _voicings(hearing: Hearing) -> dict[int, set[int]]:
    """All pitches of the comp by chord, in the order of the chords."""
    found: dict[int, set[int]] = {}
    for note in hearing.comp:
        found.setdefault(note.harmony_tick, set()).add(note.pitch)
    return dict(sorted(found.items()))


def _step(before: set[int], after: set[int]) -> float:
    """Mean distance of the voices to the nearest one on the other side, both ways."""
    there = [min(abs(pitch - other) for other in after) for pitch in before]
    back = [min(abs(pitch - other) for other in before) for pitch in after]
    return (sum(there) + sum(back)) / (len(there) + len(back))
