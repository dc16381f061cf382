"""What a voicing costs by itself and after another one. Weights are judgements of the ear, no source."""

from __future__ import annotations

from itertools import pairwise
from typing import Protocol

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
SEMITONE_BELOW = 3.0
CLUSTER = 2.0
BASS_DOUBLED_ON_TOP = 0.8
HARSH_SEMITONE = 2.5

MOVEMENT = 0.45
TOP_LEAP = 0.6
TOP_BIG_LEAP = 2.0
GUIDE_LEAP = 1.2

REGISTER = range(48, 78)
"""C3 to F5: the comp's register, in MIDI notes."""

Pitches = npt.NDArray[np.int64]
Table = npt.NDArray[np.float64]


class Mapped(Protocol):
    """What `movement_cost` must know of the candidates for a chord."""

    @property
    def voices(self) -> Table:
        """(n, p) presence of all voices."""

    @property
    def guides(self) -> Table:
        """(n, p) presence of the guide tones."""

    @property
    def near(self) -> Table:
        """(n, p) nearness of all voices."""

    @property
    def top(self) -> Table:
        """(n,) MIDI note of the top voice."""


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


def presence(grips: Pitches) -> Table:
    """How many voices of each grip lie on each pitch of the register.

    Args:
        grips: (n, v) MIDI notes within the register.

    Returns:
        (n, p) counts, one column a pitch from `REGISTER.start` up.
    """
    counts = np.zeros((len(grips), len(REGISTER)), dtype=np.float64)
    np.add.at(counts, (np.arange(len(grips))[:, None], grips - REGISTER.start), 1)
    return counts


def nearness(grips: Pitches) -> Table:
    """How far each pitch of the register lies from the nearest voice of each grip: (n, p) semitones."""
    apart = np.abs(np.arange(REGISTER.start, REGISTER.stop)[None, :, None] - grips[:, None, :])
    nearest: Table = apart.min(axis=2).astype(np.float64)
    return nearest


def movement_cost(before: Mapped, after: Mapped) -> Table:
    """Price of moving from each candidate of one chord to each of the next.

    How far the nearest voices lie apart both ways, leaps of the top voice, guide tones that find no step.
    Sums of distances over voices are products of a presence and a nearness table, which is fast.

    Returns:
        (n, m) prices for n candidates before and m after.
    """
    price: Table = MOVEMENT * (before.voices @ after.near.T + before.near @ after.voices.T)
    price += GUIDE_LEAP * (before.guides @ np.maximum(0, after.near - 2).T)
    top = np.abs(before.top[:, None] - after.top[None, :])
    price += TOP_LEAP * np.maximum(0, top - 2) + TOP_BIG_LEAP * np.maximum(0, top - 5)
    return price
