"""The ways from the candidates of one chord to those of the next: priced once, and remembered.

A pair of chords comes back in every playing of an intro, and in many intros; what a way costs depends on
nothing else. Weights are judgements of the ear, no source.
"""

from __future__ import annotations

from collections.abc import Collection
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from introit.arrange.plan import PlannedChord
from introit.arrange.shifting import FREE_SHIFT
from introit.arrange.voicing.candidates import Candidates, packed
from introit.arrange.voicing.cost import Features, Pitches, movement_prices, top_leaps
from introit.arrange.voicing.hands import hand_prices, shifts
from introit.arrange.voicing.placing import ABSENT, Notes
from introit.arrange.voicing.search import Marks
from introit.theory.fretboard import Fretboard

FORBIDDEN: Final = 500.0
HAND_MOVE: Final = 0.9
"""What one unit of the hand's own cost of moving is worth."""
SAME_GRIP, SAME_AGAIN = 1.5, 0.35
"""A new chord told by its bass alone; the same chord again with nothing moved."""
SAME_FORM = 0.5
"""The same form where the root moves by a fourth or fifth: forms alternate there ([RL], [Ty10])."""
_REMEMBERED = 4096
"""Ways of some 6 kB each."""


class Stand(NamedTuple):
    """One chord's candidates, and what of its tones the way to the next chord depends on; hashable.

    Attributes:
        candidates: the same object for the same chord and wish.
        guides: pitch classes of its guide tones.
        tensions: pitch classes of its tensions.
    """

    candidates: Candidates
    guides: tuple[int, ...]
    tensions: frozenset[int]


class Ways(NamedTuple):
    """From each candidate of one chord (rows) to each of the next (columns).

    Attributes:
        prices: what each way costs.
        leaps: semitones that the top voice moves.
        jumps: where the hand moves farther than it may without a rest; None on keys.
    """

    prices: npt.NDArray[np.float32]
    leaps: npt.NDArray[np.int8]
    jumps: Marks | None


class Alike(NamedTuple):
    """What it costs to move nothing.

    Attributes:
        grip: the same grip again.
        form: the same form on another root.
    """

    grip: float
    form: float


def alike(before: PlannedChord, after: PlannedChord) -> Alike:
    """What the same grip, and the same form, cost between two chords."""
    same_bass = bass_of(before) == bass_of(after)
    if before.chord.symbol == after.chord.symbol and same_bass:
        return Alike(SAME_AGAIN, 0.0)
    moved = (after.chord.root.pitch_class - before.chord.root.pitch_class) % 12
    return Alike(FORBIDDEN if same_bass else SAME_GRIP, SAME_FORM if moved in (5, 7) else 0.0)


def bass_of(planned: PlannedChord) -> int:
    """Pitch class under a chord."""
    return (planned.pedal or planned.chord.bass).pitch_class


@lru_cache(maxsize=_REMEMBERED)
def ways(before: Stand, after: Stand, alike: Alike, neck: Fretboard | None) -> Ways:
    """All ways from one chord to the next.

    Args:
        before: the chord that is left.
        after: the chord that is reached.
        alike: what it costs to move nothing.
        neck: what both are played on; None on keys.
    """
    stands = (before, after)
    rows, columns = (len(stand.candidates.voicings) for stand in stands)
    pitches = packed([stand.candidates.pitches for stand in stands], ABSENT)
    pitches = pitches[..., : max(1, int((pitches >= 0).any(axis=(0, 1)).sum()))]
    features = Features(
        pitches,
        _among(pitches, [stand.guides for stand in stands]),
        _among(pitches, [stand.tensions for stand in stands]),
    )
    prices = movement_prices(features)[0, :rows, :columns]
    prices += alike.grip * _same_grips(pitches)[:rows, :columns]
    if alike.form:
        one, other = before.candidates.codes, after.candidates.codes
        prices += alike.form * (one[:, None] == other[None])
    leaps = top_leaps(features)[0, :rows, :columns].astype(np.int8)
    if neck is None:
        return Ways(prices.astype(np.float32), leaps, None)
    positions = packed([stand.candidates.positions for stand in stands], 0)
    stops = packed([stand.candidates.stops for stand in stands], 0)
    prices += HAND_MOVE * hand_prices(stops, positions, neck)[0, :rows, :columns]
    jumps: Marks = shifts(positions)[0, :rows, :columns] > FREE_SHIFT
    return Ways(prices.astype(np.float32), leaps, jumps)


def _among(pitches: Pitches, classes: list[Collection[int]]) -> Marks:
    table = np.zeros((len(classes), 12), dtype=np.bool_)
    for unit, wanted in enumerate(classes):
        table[unit, list(wanted)] = True
    return table[np.arange(len(classes))[:, None, None], pitches % 12] & (pitches >= 0)


def _same_grips(pitches: Notes) -> Marks:
    grips = (pitches + 1) @ (128 ** np.arange(pitches.shape[2]))  # one number a grip
    same: Marks = grips[0][:, None] == grips[1][None]
    return same
