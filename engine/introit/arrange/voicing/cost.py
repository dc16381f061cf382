"""What a voicing costs by itself and after another one. Weights are judgements of the ear, no source."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

from introit.arrange.voicing.material import Material

CENTRE = 61.0
"""Where the middle of a voicing lies by preference: just over middle C."""
FAR_FROM_CENTRE = 0.16
WIDE = 0.5
WIDEST_FREE_SPAN = 14
SEMITONE_ON_TOP = 2.5
SEMITONE_INSIDE = 0.9
SEMITONE_BELOW = 1.6
CLUSTER = 2.0
BASS_DOUBLED_ON_TOP = 0.8
HARSH_SEMITONE = 2.5

MOVEMENT = 0.45
TOP_LEAP = 0.6
TOP_BIG_LEAP = 2.0
GUIDE_LEAP = 1.2

Pitches = npt.NDArray[np.int64]


def static_cost(grip: tuple[int, ...], material: Material) -> float:
    """Price of a voicing by itself: register, span, seconds that rub, the bass note doubled on top.

    Args:
        grip: MIDI notes, rising.
        material: the chord's.
    """
    gaps = [high - low for low, high in pairwise(grip)]
    price = FAR_FROM_CENTRE * abs((grip[0] + grip[-1]) / 2 - CENTRE)
    price += WIDE * max(0, grip[-1] - grip[0] - WIDEST_FREE_SPAN)
    price += SEMITONE_ON_TOP * (gaps[-1] == 1) + SEMITONE_INSIDE * gaps[1:-1].count(1)
    price += SEMITONE_BELOW * (gaps[0] == 1)
    price += CLUSTER * sum(low <= 2 and high <= 2 for low, high in pairwise(gaps))
    price += HARSH_SEMITONE * sum(
        high - low == 1 and _is_harsh(low, material) for low, high in pairwise(grip)
    )
    return price + BASS_DOUBLED_ON_TOP * (grip[-1] % 12 == material.bass)


def _is_harsh(low: int, material: Material) -> bool:
    """Whether the semitone over a note is the root with its b9, or a dominant's #9 with its third."""
    above_root = (low - material.root) % 12
    return above_root == 0 or (above_root == 3 and material.flat_nine)


def movement_cost(before: Pitches, after: Pitches, guides: Pitches) -> npt.NDArray[np.float64]:
    """Price of moving from each candidate of one chord to each of the next.

    Args:
        before: (n, v) MIDI notes.
        after: (m, v) MIDI notes.
        guides: (n, g) guide tones of `before`, which should find a note within a step.

    Returns:
        (n, m) prices: how far the nearest voices lie apart both ways, leaps of the top voice, guide tones
        that find no step.
    """
    apart = np.abs(before[:, None, :, None] - after[None, :, None, :])
    moved = apart.min(axis=3).sum(axis=2) + apart.min(axis=2).sum(axis=2)
    top = np.abs(before[:, None, -1] - after[None, :, -1])
    resolved = np.abs(guides[:, None, :, None] - after[None, :, None, :]).min(axis=3)
    price: npt.NDArray[np.float64] = MOVEMENT * moved
    price += TOP_LEAP * np.maximum(0, top - 2) + TOP_BIG_LEAP * np.maximum(0, top - 5)
    price += GUIDE_LEAP * np.maximum(0, resolved - 2).sum(axis=2)
    return price
