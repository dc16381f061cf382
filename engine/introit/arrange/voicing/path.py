"""The cheapest way through all chords at once, by dynamic programming."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from introit.arrange.form import ArrangeError
from introit.arrange.plan import Plan
from introit.arrange.voicing.candidates import HIGHEST, Candidates, Grip, candidates_for
from introit.arrange.voicing.cost import movement_cost
from introit.arrange.voicing.material import material_of
from introit.units import TICKS_PER_QUARTER

CEILING_UNDER_LINE = 70
"""Bb4: the comp's top voice stays below where a melody line moves."""


def voice_plan(plan: Plan) -> tuple[Grip, ...]:
    """A voicing for each chord of a plan: MIDI notes, rising; three or four of them.

    Raises:
        ArrangeError: when a chord has no clean voicing in the register at all.
    """
    ceiling = CEILING_UNDER_LINE if plan.intro.melody.style == "line" else HIGHEST
    chords: list[Candidates] = []
    for planned in plan.chords:
        found = candidates_for(material_of(planned), ceiling)
        if not found.grips:
            where = f"intro {plan.intro.id!r}, beat {planned.onset // TICKS_PER_QUARTER + 1}"
            raise ArrangeError(f"{where}: {planned.chord.symbol} has no clean voicing in the comp's register")
        chords.append(found)
    return tuple(found.grips[index] for found, index in zip(chords, best_path(chords), strict=True))


def best_path(chords: Sequence[Candidates]) -> list[int]:
    """Index of the candidate chosen for each chord; the sum of prices and movements is least."""
    total = chords[0].price
    came_from: list[np.ndarray[tuple[int], np.dtype[np.intp]]] = []
    for before, after in pairwise(chords):
        through = total[:, None] + movement_cost(before, after)
        came_from.append(through.argmin(axis=0))
        total = through.min(axis=0) + after.price
    index = int(total.argmin())
    path = [index]
    for choices in reversed(came_from):
        index = int(choices[index])
        path.append(index)
    return path[::-1]
