"""What it costs the hand to go from one grip to the next.

A finger that stays on its string and fret costs nothing; a guide finger, which slides along its string
without leaving it, costs little; any other must be put down anew. Lifting is free. Over all that comes the
shift of the hand's position along the neck, in millimetres. The weights have no source: starting values.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from introit.theory.fingering import Fingering, Stop
from introit.theory.fretboard import Fretboard
from introit.theory.hand import THUMB


@dataclass(frozen=True, slots=True)
class MoveCost:
    """What each part of a move costs, in the bare numbers of `HandCost` (no source).

    Attributes:
        placed: each finger put down anew.
        guide: each finger that slides along its string.
        shift: a shift of the hand by 100 mm.
    """

    placed: float = 0.25
    guide: float = 0.1
    shift: float = 1.0


class Move(NamedTuple):
    """From one grip to the next.

    Attributes:
        kept: fingers that stay where they are.
        guides: fingers that slide along a string.
        placed: fingers put down anew.
        shift_frets: how far the position moves, in frets; below zero towards the nut. 0 when either grip is
            all open strings, which the hand takes wherever it is.
        shift_mm: the same in millimetres.
        cost: the whole, from 0.
    """

    kept: tuple[int, ...]
    guides: tuple[int, ...]
    placed: tuple[int, ...]
    shift_frets: int
    shift_mm: float
    cost: float


def move(before: Fingering, after: Fingering, fretboard: Fretboard, *, weigh: MoveCost | None = None) -> Move:
    """The move between two fingerings on one neck."""
    weights = weigh or MoveCost()
    earlier = {stop.finger: stop for stop in before.stops}
    kept: list[int] = []
    guides: list[int] = []
    placed: list[int] = []
    for stop in after.stops:
        old = earlier.get(stop.finger)
        if old is None or not _share_a_string(old, stop):
            placed.append(stop.finger)
        else:
            (kept if old.fret == stop.fret else guides).append(stop.finger)
    settled = before.position > 0 and after.position > 0
    frets = after.position - before.position if settled else 0
    millimetres = fretboard.fret_mm[after.position] - fretboard.fret_mm[before.position] if settled else 0.0
    cost = len(placed) * weights.placed + len(guides) * weights.guide + abs(millimetres) / 100 * weights.shift
    return Move(tuple(kept), tuple(guides), tuple(placed), frets, millimetres, cost)


def move_costs(
    before: Sequence[Fingering],
    after: Sequence[Fingering],
    fretboard: Fretboard,
    *,
    weigh: MoveCost | None = None,
) -> npt.NDArray[np.float64]:
    """The costs of every move between two sets of fingerings at once, for a search.

    Returns:
        One row a fingering before, one column a fingering after; each as `move(...).cost`.
    """
    weights = weigh or MoveCost()
    old, new = _table(before)[:, None], _table(after)[None]
    used = new[..., 0] > 0
    shared = (
        (old[..., 0] > 0) & used & (old[..., 1] <= new[..., 2]) & (new[..., 1] <= old[..., 2])
    )  # fmt: skip
    kept = shared & (old[..., 0] == new[..., 0])
    sliding = shared.sum(axis=2) - kept.sum(axis=2)
    placed = used.sum(axis=2) - shared.sum(axis=2)
    shift = _shifts(before, after, fretboard)
    return np.asarray(placed * weights.placed + sliding * weights.guide + shift / 100 * weights.shift)


def _share_a_string(one: Stop, other: Stop) -> bool:
    return one.lowest <= other.highest and other.lowest <= one.highest


def _table(fingerings: Sequence[Fingering]) -> npt.NDArray[np.int16]:
    """Fret, lowest and highest row of each finger; fret 0 where it does nothing. Shape (n, 5, 3)."""
    table = np.zeros((len(fingerings), THUMB, 3), dtype=np.int16)
    for number, fingering in enumerate(fingerings):
        for stop in fingering.stops:
            table[number, stop.finger - 1] = stop[1:]
    return table


def _shifts(
    before: Sequence[Fingering], after: Sequence[Fingering], fretboard: Fretboard
) -> npt.NDArray[np.float64]:
    """Millimetres between positions, 0 where a grip has none."""
    fret_mm = np.asarray(fretboard.fret_mm)
    old = np.array([fingering.position for fingering in before], dtype=np.intp)[:, None]
    new = np.array([fingering.position for fingering in after], dtype=np.intp)[None]
    settled = (old > 0) & (new > 0)
    return np.where(settled, np.abs(fret_mm[new] - fret_mm[old]), 0.0)
