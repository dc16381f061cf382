"""How a grip is held: which finger stops which string; or why no hand can hold it. Plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from introit.theory.grip import SILENT, Grip

OPEN_STRING = 0
"""Stands in `Fingering.fingers` for a string that rings without a finger; a silent one has -1."""


class Stop(NamedTuple):
    """One finger at work.

    Attributes:
        finger: 1 (index) to 4 (little), 5 for the thumb.
        fret: above the capo, from 1.
        lowest: row of the lowest string it stops, 0 for the lowest string of the neck.
        highest: row of the highest; above `lowest` when the finger lies flat.
    """

    finger: int
    fret: int
    lowest: int
    highest: int


@dataclass(frozen=True, slots=True)
class Fingering:
    """A grip as it is held.

    Attributes:
        grip: what is held.
        fingers: one a string, lowest string first: 1 to 4, 5 for the thumb, 0 open, -1 silent.
        cost: what it costs the hand, from 0; to be compared with other fingerings by the same hand.
        stops: the fingers at work, by number.
        position: the fret at which the index lies or would lie, from 1; 0 when nothing is stopped.
    """

    grip: Grip
    fingers: tuple[int, ...]
    cost: float
    stops: tuple[Stop, ...]
    position: int


@dataclass(frozen=True, slots=True)
class Unplayable:
    """A grip that the hand cannot hold.

    Attributes:
        grip: what was asked.
        reason: why not, in words.
    """

    grip: Grip
    reason: str


def fingering_of(grip: Grip, stops: tuple[Stop, ...], cost: float) -> Fingering:
    """A fingering from the fingers at work, by number; each stops the strings of its fret in its range."""
    fingers = [SILENT if fret == SILENT else OPEN_STRING for fret in grip.frets]
    for stop in stops:
        for row in range(stop.lowest, stop.highest + 1):
            if grip.frets[row] == stop.fret:
                fingers[row] = stop.finger
    position = max(1, stops[0].fret - min(stops[0].finger, 4) + 1) if stops else 0
    return Fingering(grip, tuple(fingers), cost, stops, position)
