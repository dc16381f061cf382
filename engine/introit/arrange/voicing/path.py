"""The cheapest way through all chords at once, by dynamic programming."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from introit.arrange.form import ArrangeError
from introit.arrange.plan import PlannedChord
from introit.arrange.scene import Scene
from introit.arrange.voicing.candidates import HIGHEST, Candidates, candidates_for
from introit.arrange.voicing.cost import movement_cost
from introit.arrange.voicing.material import material_of
from introit.arrange.voicing.voicing import Voicing
from introit.arrange.voicing.wish import Wish
from introit.units import TICKS_PER_QUARTER

_SAME_GRIP, _SAME_GRIP_OVER_ONE_BASS = 1.5, 6.0
"""Price of a new chord told with the grip of the one before: by the bass alone, or by nothing at all."""


def voice(scene: Scene, wishes: Sequence[Wish]) -> tuple[Voicing, ...]:
    """A voicing for each unit of a scene.

    Args:
        scene: the units and who plays them.
        wishes: one for each unit.

    Raises:
        ArrangeError: when a chord has no clean voicing at all.
    """
    chords: list[Candidates] = []
    for index, wish in enumerate(wishes):
        planned = scene.chord_of(index)
        over = frozenset(pitch % 12 for pitch in wish.over)
        found = candidates_for(material_of(planned, beside=over), min(wish.ceiling, HIGHEST))
        if not found.grips:
            where = f"intro {scene.plan.intro.id!r}, beat {planned.onset // TICKS_PER_QUARTER + 1}"
            raise ArrangeError(f"{where}: {planned.chord.symbol} has no clean voicing in the comp's register")
        chords.append(found)
    planned_chords = [scene.chord_of(index) for index in range(len(scene.units))]
    again = [_price_of_same_grip(before, after) for before, after in pairwise(planned_chords)]
    path = best_path(chords, again=again)
    return tuple(Voicing(found.grips[index]) for found, index in zip(chords, path, strict=True))


def best_path(chords: Sequence[Candidates], *, again: Sequence[float] | None = None) -> list[int]:
    """Index of the candidate chosen for each chord; the sum of prices and movements is least.

    Args:
        chords: the candidates of each chord.
        again: for each chord but the first, what it costs to repeat the grip before; nothing by default.
    """
    total = chords[0].price
    came_from: list[np.ndarray[tuple[int], np.dtype[np.intp]]] = []
    for (before, after), price in zip(pairwise(chords), again or [0.0] * len(chords), strict=False):
        through = total[:, None] + movement_cost(before, after)
        if price:
            through += price * (before.pitches[:, None] == after.pitches[None]).all(axis=2)
        came_from.append(through.argmin(axis=0))
        total = through.min(axis=0) + after.price
    index = int(np.argmin(total))
    path = [index]
    for choices in reversed(came_from):
        index = int(choices[index])
        path.append(index)
    return path[::-1]


def _price_of_same_grip(before: PlannedChord, after: PlannedChord) -> float:
    bass, new_bass = (planned.pedal or planned.chord.bass for planned in (before, after))
    if bass.pitch_class != new_bass.pitch_class:
        return _SAME_GRIP
    return 0.0 if before.chord.symbol == after.chord.symbol else _SAME_GRIP_OVER_ONE_BASS
