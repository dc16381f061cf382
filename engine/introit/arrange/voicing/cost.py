"""What a voicing costs by itself and after another one. Weights are judgements of the ear, no source.

The way from one chord to the next is reckoned for all pairs of candidates at once: sums of distances over
voices are products of two tables, one saying where the voices of a grip lie, one saying how far each pitch is
from the nearest voice of another.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from introit.arrange.voicing.material import Material

WIDE = 0.5
WIDEST_FREE_SPAN = 14
"""Semitones between the outer voices; a bass note in the grip is not counted."""
SEMITONE_ON_TOP = 2.5
SEMITONE_INSIDE = 0.9
SEMITONE_BELOW, SEMITONE_OVER_BASS = 5.0, 20.0
"""At the bottom of a grip; and right over its bass note, which is heard apart from it."""
CLUSTER = 2.0
BASS_DOUBLED_ON_TOP = 0.8
HARSH_SEMITONE = 2.5
"""The root with its own b9, a semitone apart."""

MOVEMENT = 0.32
"""For each voice and semitone, there and back."""
TOP_SKIP, TOP_FARTHER, TOP_LEAP = 1.2, 0.4, 3.0
"""The top voice leaves its line by more than a whole step; each semitone past that; by more than a fourth."""
GUIDE_LEAP = 1.2
"""A guide tone that finds no step: each semitone past a whole step."""
UNRESOLVED = 1.5
"""A tension that neither stays nor falls by step (b9 to 5, 13 and b13 to 9)."""
UNPREPARED = 0.15
"""A tension that is not reached by step: each semitone past a whole step."""

STEP, FOURTH = 2, 5
LOWEST, HIGHEST = 35, 88
"""B1, the lowest string of seven, and E6: the pitches that the tables know, in MIDI notes."""

Prices = npt.NDArray[np.float64]
Table = npt.NDArray[np.float32]
Pitches = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]

_SPAN = HIGHEST - LOWEST + 1
_NOBODY = _SPAN
"""Row that stands for a voice that is not there."""
_APART = np.full((_SPAN + 1, _SPAN), 99.0, dtype=np.float32)
_APART[:_SPAN] = np.abs(np.subtract.outer(np.arange(_SPAN), np.arange(_SPAN)))
_NOT_FALLEN = np.ones((_SPAN + 1, _SPAN), dtype=np.float32)
for _fall in range(STEP + 1):
    _NOT_FALLEN[np.arange(_SPAN - _fall), np.arange(_fall, _SPAN)] = 0.0
_LEAPS = np.arange(128)
_PRICE_OF_LEAP = (
    TOP_SKIP * (_LEAPS > STEP) + TOP_FARTHER * np.maximum(_LEAPS - STEP, 0) + TOP_LEAP * (_LEAPS > FOURTH)
)


def stack_price(stack: Sequence[int], material: Material, *, bass_in_grip: bool = False) -> float:
    """Price of a stack of tones by its gaps: span, seconds that rub, the bass note doubled on top.

    Args:
        stack: semitones or MIDI notes, rising; any octave.
        material: the chord's, with its root where the stack has it.
        bass_in_grip: True where the lowest voice is a bass note, apart from the others.
    """
    gaps = [high - low for low, high in pairwise(stack)]
    if not gaps:
        return 0.0
    upper = stack[int(bass_in_grip and len(stack) > 2) :]
    price = WIDE * max(0, upper[-1] - upper[0] - WIDEST_FREE_SPAN)
    price += SEMITONE_ON_TOP * (gaps[-1] == 1) + SEMITONE_INSIDE * gaps[1:-1].count(1)
    price += (SEMITONE_OVER_BASS if bass_in_grip else SEMITONE_BELOW) * (gaps[0] == 1)
    price += CLUSTER * sum(low <= STEP and high <= STEP for low, high in pairwise(gaps))
    price += HARSH_SEMITONE * sum(
        high - low == 1 and (low - material.root) % 12 == 0 for low, high in pairwise(stack)
    )
    return price + BASS_DOUBLED_ON_TOP * (stack[-1] % 12 == material.bass % 12)


class Features:
    """The tables of a chord's candidates, for `movement_prices`.

    Attributes:
        before, after: (n, t) whose products with another chord's are sums over voices: where its voices lie,
            and how far each pitch is from the nearest of them.
        top: (n,) MIDI note of the top voice.
    """

    __slots__ = ("after", "before", "top")

    def __init__(self, pitches: Pitches, guides: Marks, tense: Marks) -> None:
        """Works the tables out.

        Args:
            pitches: (n, v) MIDI notes, rising; below 0 where a grip has fewer voices.
            guides: of the same shape; which of them are guide tones.
            tense: of the same shape; which of them are tensions.
        """
        rows = np.where(pitches < 0, _NOBODY, pitches - LOWEST)
        voices, led, falling = (_lies(rows, marks) for marks in (pitches >= 0, guides, tense))
        near, unresolved = _nearest(_APART, rows), _nearest(_NOT_FALLEN, rows)
        beyond = np.maximum(near - STEP, 0)
        self.top = pitches.max(axis=-1)
        self.before = np.concatenate(
            [MOVEMENT * voices, near, GUIDE_LEAP * led, UNRESOLVED * falling, beyond], axis=-1
        )
        self.after = np.concatenate(
            [near, MOVEMENT * voices, beyond, unresolved, UNPREPARED * falling], axis=-1
        )


def _lies(rows: Pitches, marks: Marks) -> Table:
    """(n, span) where the marked voices lie: 1 at the pitch of each."""
    table = np.zeros((len(rows), _SPAN), dtype=np.float32)
    grip, voice = marks.nonzero()
    table[grip, rows[grip, voice]] = 1.0
    return table


def _nearest(table: Table, rows: Pitches) -> Table:
    """(n, span) the least of a table's rows over the voices, one voice at a time: far faster than at once."""
    least = table[rows[:, 0]]
    for voice in range(1, rows.shape[1]):
        np.minimum(least, table[rows[:, voice]], out=least)
    return least


def movement_prices(before: Features, after: Features) -> Prices:
    """Price of every move from each candidate of one chord to each of the next.

    How far the nearest voices lie apart both ways, guide tones that find no step, tensions that are not
    prepared or do not fall, skips and leaps of the top voice.

    Args:
        before: of the chord that is left, with n candidates.
        after: of the chord that is reached, with m candidates.

    Returns:
        (n, m) prices.
    """
    price: Prices = (before.before @ after.after.T).astype(np.float64)
    price += _PRICE_OF_LEAP[top_leaps(before.top, after.top)]
    return price


def top_leaps(before: Pitches, after: Pitches) -> Pitches:
    """Semitones that the top voice moves: (..., n, m) for (..., n) and (..., m) MIDI notes."""
    leaps: Pitches = np.abs(before[..., :, None] - after[..., None, :])
    return leaps
