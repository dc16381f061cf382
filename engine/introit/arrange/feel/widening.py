"""Widening: a part whose notes differ too little in level has its own differences enlarged."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from introit.arrange.score import ScoreNote, Touch
from introit.performance import PARTS

LEAST_RANGE = 21.0
"""Velocity units that a part covers at least where it has enough notes; 20 after rounding."""
ENOUGH = 16
"""Notes of a part from which on it must reach that far: fewer are no more than a phrase."""
MOST_WIDENED, MOST_AT_ALL = 2.0, 20.0
"""Times that a part's own differences are enlarged at most: of a few notes, and of enough."""
_STEP = 1.05


class _Alike(NamedTuple):
    """Notes of a part whose levels differ by their weights alone; none is ever outside the two extremes."""

    usual: float
    rise: float
    lightest: float
    heaviest: float


class _Widening(NamedTuple):
    """Differences from a middle, enlarged so many times."""

    middle: float = 0.0
    factor: float = 1.0

    def of(self, weight: float) -> float:
        return self.middle + (weight - self.middle) * self.factor


def widened(
    notes: Sequence[ScoreNote],
    weights: Sequence[float],
    usual: Sequence[float],
    *,
    rises: Sequence[float],
    head_tick: int,
) -> list[float]:
    """The level of each note: its usual one and its weight, enlarged where its part's differ too little.

    Args:
        notes: in the order of the weights.
        weights: velocity of each against its usual level.
        usual: velocity about which each note lies; within a part it differs where the player does.
        rises: what a top voice is raised by, still to be added; the range is there with it and without.
        head_tick: notes from here on, and ornaments, say nothing of a part's range.
    """
    own: list[defaultdict[tuple[float, float], list[float]]] = [defaultdict(list) for _ in PARTS]
    for note, weight, level, rise in zip(notes, weights, usual, rises, strict=True):
        if note.touch is not Touch.ORNAMENT and note.onset < head_tick:
            own[note.part][level, rise].append(weight)
    wide = [_widening(part) for part in own]
    return [
        level + wide[note.part].of(weight) for note, weight, level in zip(notes, weights, usual, strict=True)
    ]


def _widening(weights: Mapping[tuple[float, float], Collection[float]]) -> _Widening:
    """The least that makes weights about their usual levels cover the range, if any does.

    Args:
        weights: of one part's notes, by their usual level and their rise.
    """
    own = [_Alike(*by, min(alike), max(alike)) for by, alike in weights.items()]
    lightest, heaviest = (
        min([one.lightest for one in own], default=0),
        max([one.heaviest for one in own], default=0),
    )
    if lightest == heaviest:
        return _Widening()
    middle, factor = (lightest + heaviest) / 2, 1.0
    most = MOST_WIDENED if sum(map(len, weights.values())) < ENOUGH else MOST_AT_ALL
    while factor < most and _reach(own, middle, factor) < LEAST_RANGE:
        factor *= _STEP
    return _Widening(middle, factor)


def _reach(own: Sequence[_Alike], middle: float, factor: float) -> float:
    """From the softest to the loudest, top voices raised or not: the smaller of both."""
    low = [one.usual + (one.lightest - middle) * factor for one in own]
    high = [one.usual + (one.heaviest - middle) * factor for one in own]
    raised_low = [level + one.rise for level, one in zip(low, own, strict=True)]
    raised_high = [level + one.rise for level, one in zip(high, own, strict=True)]
    return min(max(high) - min(low), max(raised_high) - min(raised_low))
