"""What the moves of the fretting hand cost between all candidates of one chord and all of the next, at once.

The same reckoning as `theory.move.move`, on tables that are made once for each set of candidates.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

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


def shifts(before: Positions, after: Positions) -> Positions:
    """Frets that the hand moves: (..., n, m) for (..., n) and (..., m); 0 to and from open strings."""
    one, other = before[..., :, None], after[..., None, :]
    moved: Positions = np.abs(one - other) * ((one > 0) & (other > 0))
    return moved


class Fingers(NamedTuple):
    """The fingers of a chord's candidates, for `hand_prices`.

    Attributes:
        fret, lowest, highest: (f, n) of each finger up to the last that is used; the rows of one that does
            nothing meet those of no other.
        down: (n,) how many are put down.
        mm: (n,) how far each position lies from the nut.
        stopping: (n,) whether anything is stopped.
    """

    fret: Stops
    lowest: Stops
    highest: Stops
    down: Positions
    mm: Prices
    stopping: npt.NDArray[np.bool_]


def fingers_of(stops: Stops, positions: Positions, neck: Fretboard) -> Fingers:
    """The fingers of candidates.

    Args:
        stops: (n, 5, 3), see `stops_of`.
        positions: (n,).
        neck: that they lie on.
    """
    fret, lowest, highest = stops.transpose(2, 1, 0)
    idle = fret == 0
    used = int(np.flatnonzero(~idle.all(axis=1)).max(initial=-1)) + 1
    nowhere = np.int8(127)
    return Fingers(
        fret=fret[:used],
        lowest=np.where(idle, nowhere, lowest)[:used],
        highest=np.where(idle, -nowhere, highest)[:used],
        down=(~idle).sum(axis=0),
        mm=np.asarray(neck.fret_mm)[positions],
        stopping=positions > 0,
    )


def hand_prices(before: Fingers, after: Fingers) -> Prices:
    """The cost of every move, as `theory.move.move(...).cost`.

    Args:
        before: of the chord that is left, with n candidates.
        after: of the chord that is reached, with m candidates.

    Returns:
        (n, m) prices.
    """
    weigh = MoveCost()
    far = np.abs(before.mm[:, None] - after.mm) * (before.stopping[:, None] & after.stopping)
    price: Prices = far * (weigh.shift / 100)
    price += weigh.placed * after.down
    used = min(len(before.fret), len(after.fret))
    one, other = (slice(used), slice(None), None), (slice(used), None)
    meet = (before.lowest[one] <= after.highest[other]) & (after.lowest[other] <= before.highest[one])
    stay = meet & (before.fret[one] == after.fret[other])
    for spared, kept in zip((weigh.placed - weigh.guide) * meet, weigh.guide * stay, strict=True):
        price -= spared
        price -= kept
    return price
