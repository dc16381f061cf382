"""Which melody notes lie within the hand's reach over a grip, for one pair of hands that plays both."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from introit.arrange.voicing.placing import ABSENT, Notes, Placed
from introit.theory.fretboard import Fretboard

REACH = 4
"""Frets from the lowest stopped one to the highest that a hand has anywhere on the neck (from memory)."""


def out_of_reach(rows: Placed, over: Collection[int], neck: Fretboard) -> Notes:
    """How many of some notes lie on no higher string within the hand's reach, for each grip: (n,).

    Args:
        rows: grips on the neck.
        over: MIDI notes of the melody.
        neck: what both are played on.
    """
    stopped = (rows.frets != ABSENT) & (rows.frets > 0)
    low = np.where(stopped, rows.frets, neck.frets).min(axis=1)
    high = np.where(stopped, rows.frets, 0).max(axis=1)
    highest = np.where(rows.frets == ABSENT, neck.strings + 1, rows.strings).min(axis=1)
    missed: Notes = np.zeros(len(low), dtype=np.int64)
    for pitch in over:
        reached = np.zeros(len(low), dtype=np.bool_)
        for place in neck.places(pitch):
            span = np.maximum(high, place.fret) - np.minimum(low, place.fret)
            reached |= (place.string < highest) & ((span <= REACH) | (place.fret == 0))
        missed += ~reached
    return missed
