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
from introit.arrange.voicing.candidates import Candidates
from introit.arrange.voicing.cost import Features, Pitches, movement_prices
from introit.arrange.voicing.hands import Fingers, Positions, fingers_of, hand_prices, shifts
from introit.arrange.voicing.placing import Notes
from introit.arrange.voicing.search import Marks
from introit.theory.chord import Chord
from introit.theory.fretboard import Fretboard

FORBIDDEN: Final = 500.0
HAND_MOVE: Final = 0.9
"""What one unit of the hand's own cost of moving is worth."""
SAME_GRIP, SAME_AGAIN = 1.5, 0.35
"""A new chord told by its bass alone; the same chord again with nothing moved."""
SAME_FORM = 0.5
"""The same form where the root moves by a fourth or fifth: forms alternate there ([RL], [Ty10])."""
_REMEMBERED = 8192
"""Chords that follow each other, of some 4 kB each: all that a hundred tunes have in a dozen keys."""
_JUST_ASKED = 16
"""Chords whose tables are kept, of some 70 kB each: the one that is reached is left next."""


Ways = npt.NDArray[np.float32]
"""(n, m) what each way costs: from each candidate of one chord (rows) to each of the next (columns)."""


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
    if same_bass and tones_of(before) == tones_of(after):
        return Alike(SAME_GRIP, 0.0)
    moved = (after.chord.root.pitch_class - before.chord.root.pitch_class) % 12
    return Alike(FORBIDDEN if same_bass else SAME_GRIP, SAME_FORM if moved in (5, 7) else 0.0)


def bass_of(planned: PlannedChord) -> int:
    """Pitch class under a chord."""
    return (planned.pedal or planned.chord.bass).pitch_class


def tones_of(planned: PlannedChord) -> frozenset[int]:
    """Pitch classes that a chord names, its fifth and the bass among them."""
    return _named(planned.chord) | {bass_of(planned)}


@lru_cache(maxsize=4096)
def _named(chord: Chord) -> frozenset[int]:
    named = (*chord.required, *filter(None, [chord.tone("5")]))
    return frozenset(tone.pitch_class for tone in named)


@lru_cache(maxsize=_REMEMBERED)
def ways(before: Stand, after: Stand, alike: Alike, neck: Fretboard | None) -> Ways:
    """What all ways from one chord to the next cost, but for a jump of the hand.

    Args:
        before: the chord that is left.
        after: the chord that is reached.
        alike: what it costs to move nothing.
        neck: what both are played on; None on keys.

    Returns:
        (n, m): from each candidate of one (rows) to each of the other (columns). Not to be changed.
    """
    one, other = _tables(before, neck), _tables(after, neck)
    prices = movement_prices(one.features, other.features)
    prices += alike.grip * (one.grips[:, None] == other.grips)
    if alike.form:
        prices += alike.form * (before.candidates.codes[:, None] == after.candidates.codes)
    if one.fingers and other.fingers:
        prices += HAND_MOVE * hand_prices(one.fingers, other.fingers)
    return prices.astype(np.float32)


def jumps(before: Positions, after: Positions) -> Marks:
    """Where the hand moves farther than it may without a rest: (..., n, m) for (..., n) and (..., m)."""
    far: Marks = shifts(before, after) > FREE_SHIFT
    return far


class _Tables(NamedTuple):
    """What is reckoned with of a chord's candidates.

    Attributes:
        features: of what sounds.
        grips: (n,) one number a grip.
        fingers: of the hand; None on keys.
    """

    features: Features
    grips: Notes
    fingers: Fingers | None


@lru_cache(maxsize=_JUST_ASKED)
def _tables(stand: Stand, neck: Fretboard | None) -> _Tables:
    found = stand.candidates
    pitches = found.pitches[:, : max(1, int(found.voices.max(initial=0)))]
    features = Features(pitches, _among(pitches, stand.guides), _among(pitches, stand.tensions))
    grips = (pitches + 1) @ (128 ** np.arange(pitches.shape[1]))
    return _Tables(features, grips, fingers_of(found.stops, found.positions, neck) if neck else None)


def _among(pitches: Pitches, classes: Collection[int]) -> Marks:
    table = np.zeros(12, dtype=np.bool_)
    table[list(classes)] = True
    among: Marks = table[pitches % 12] & (pitches >= 0)
    return among
