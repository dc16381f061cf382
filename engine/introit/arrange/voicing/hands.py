"""What the moves of the fretting hand cost between all candidates of one chord and all of the next, at once.

The same reckoning as `theory.move.move`, on tables that are made once for each set of candidates.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard
from introit.theory.hand import THUMB
from introit.theory.move import MoveCost

Stops = npt.NDArray[np.int8]
Positions = npt.NDArray[np.int64]
Prices = npt.NDArray[np.float64]


def stops_of(fingerings: Sequence[Fingering]) -> Stops:
    """Fret, lowest and highest row of each finger: (n, 5, 3); fret 0 where a finger does nothing."""
    table = np.zeros((len(fingerings), THUMB, 3), dtype=np.int8)
    for number, fingering in enumerate(fingerings):
        for stop in fingering.stops:
            table[number, stop.finger - 1] = stop[1:]
    return table


def positions_of(fingerings: Sequence[Fingering]) -> Positions:
    """The fret of each position; 0 where nothing is stopped."""
    return np.array([fingering.position for fingering in fingerings], dtype=np.int64)


def shifts(positions: Positions) -> Positions:
    """Frets that the hand moves: (u - 1, n, n) for (u, n) positions; 0 to and from open strings."""
    before, after = positions[:-1, :, None], positions[1:, None, :]
    moved: Positions = np.abs(before - after) * ((before > 0) & (after > 0))
    return moved


def hand_prices(stops: Stops, positions: Positions, neck: Fretboard) -> Prices:
    """The cost of every move, as `theory.move.move(...).cost`.

    Args:
        stops: (u, n, 5, 3), see `stops_of`.
        positions: (u, n).
        neck: that they lie on.

    Returns:
        (u - 1, n, n); before, after.
    """
    weigh = MoveCost()
    mm = np.asarray(neck.fret_mm)[positions]
    before, after = positions[:-1, :, None], positions[1:, None, :]
    far = np.abs(mm[:-1, :, None] - mm[1:, None, :]) * ((before > 0) & (after > 0))
    price: Prices = far * (weigh.shift / 100)
    price += weigh.placed * (stops[1:, :, :, 0] > 0).sum(axis=2)[:, None, :]
    fret, low, high = np.moveaxis(stops, (3, 2), (0, 1))
    for finger in range(THUMB):
        if not fret[finger].any():
            continue
        one, other = fret[finger, :-1, :, None], fret[finger, 1:, None, :]
        shared = (low[finger, :-1, :, None] <= high[finger, 1:, None, :]) & (
            low[finger, 1:, None, :] <= high[finger, :-1, :, None]
        )
        shared &= (one > 0) & (other > 0)
        price -= (weigh.placed - weigh.guide) * shared
        price -= weigh.guide * (shared & (one == other))
    return price
