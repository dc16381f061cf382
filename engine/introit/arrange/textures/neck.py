"""Notes that a texture finds for itself, put on the neck: each set by a grip that a hand can hold."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from introit.arrange.line_up import Stage
from introit.arrange.shifting import FREE_SHIFT
from introit.theory.fingering import OPEN_STRING, Fingering, Unplayable
from introit.theory.fretboard import Fretboard, Place
from introit.theory.grip import Grip
from introit.theory.hand import INDEX, LITTLE
from introit.theory.holding import hand_on
from introit.theory.plucking import Plucking, why_not_plucked

_SHIFT, _FAR_SHIFT = 0.15, 20.0
"""Price of a fret that the hand moves, and of moving farther than is free. Judgement, no source."""
_HIGH_STRINGS = 0.1
"""Price of each string number in a line: the higher strings sing."""


class Held(NamedTuple):
    """A set of notes on the neck.

    Attributes:
        places: one a pitch, in the pitches' order.
        fingers: one a pitch: 1 to 4, 0 open.
        position: the fret at which the index lies; 0 when all is open.
        cost: what it costs the hand.
    """

    places: tuple[Place, ...]
    fingers: tuple[int, ...]
    position: int
    cost: float


def held_at(stage: Stage, places: tuple[Place, ...]) -> Held | None:
    """The places held and sounded at once, if a hand can; None where two share a string, too."""
    return _held_at(stage.fretboard, stage.plucking, places)


@lru_cache(maxsize=65536)
def _held_at(fretboard: Fretboard, plucking: Plucking, places: tuple[Place, ...]) -> Held | None:
    if len({place.string for place in places}) < len(places):
        return None
    fingering = hand_on(fretboard, damps=plucking is Plucking.PICK).hold(
        Grip.from_places(places, strings=fretboard.strings)
    )
    if isinstance(fingering, Unplayable) or why_not_plucked(fingering, plucking):
        return None
    return _held(fingering, places, fretboard)


def _held(fingering: Fingering, places: tuple[Place, ...], fretboard: Fretboard) -> Held:
    fingers = tuple(fingering.fingers[fretboard.strings - place.string] for place in places)
    return Held(places, fingers, fingering.position, fingering.cost)


@lru_cache(maxsize=65536)
def _grips(
    fretboard: Fretboard, plucking: Plucking, pitches: tuple[int, ...], bass: Place | None
) -> tuple[Held, ...]:
    """Every way to hold the pitches, higher ones on higher strings, over a bass note's place if any."""
    found: list[tuple[Place, ...]] = [()]
    for pitch in pitches:
        found = [
            (*before, place)
            for before in found
            for place in fretboard.places(pitch)
            if not before or place.string < before[-1].string
        ]
    if bass is None and len(pitches) == 1:
        return tuple(held for (place,) in found for held in _by_any_finger(place))
    lowest = () if bass is None else (bass,)
    held = [_held_at(fretboard, plucking, (*lowest, *places)) for places in found]
    return tuple(one._replace(places=one.places[len(lowest) :], fingers=one.fingers[len(lowest) :])
                 for one in held if one is not None)  # fmt: skip


def nearest(
    stage: Stage, pitches: tuple[int, ...], position: int, *, bass: Place | None = None
) -> Held | None:
    """The easiest way to hold pitches near a position; None where no hand can.

    Args:
        stage: neck and plucking.
        pitches: MIDI notes, rising.
        position: the fret at which the index lies before; 0 for anywhere.
        bass: a bass note that goes on sounding below, if there is one.
    """
    return walked(stage, (pitches,), position, bass=bass)[0]


def walked(
    stage: Stage, sets: Sequence[tuple[int, ...]], position: int, *, bass: Place | None = None, to: int = 0
) -> tuple[Held | None, ...]:
    """Sets of pitches one after the other, held where the whole of it moves the hand least.

    The bass note is let go where a set cannot be held over it; a set that no hand can hold is None.

    Args:
        stage: neck and plucking.
        sets: MIDI notes, each set rising.
        position: the fret at which the index lies before; 0 for anywhere.
        bass: a bass note that goes on sounding below, if there is one.
        to: the fret at which the index lies after; 0 for anywhere.
    """
    return _walked(stage.fretboard, stage.plucking, tuple(sets), position, bass, to)


def _by_any_finger(place: Place) -> list[Held]:
    """A single note as each finger stops it, the hand lying a fret lower for each."""
    if not place.fret:
        return [Held((place,), (OPEN_STRING,), 0, 0.0)]
    return [
        Held((place,), (finger,), place.fret - finger + 1, 0.0)
        for finger in range(INDEX, LITTLE + 1)
        if finger <= place.fret
    ]


@lru_cache(maxsize=32768)
def _walked(
    fretboard: Fretboard,
    plucking: Plucking,
    sets: tuple[tuple[int, ...], ...],
    position: int,
    bass: Place | None,
    to: int,
) -> tuple[Held | None, ...]:
    """The cheapest way by dynamic programming: for each last grip, the way to it and its price."""
    paths: list[tuple[float, int, tuple[Held | None, ...]]] = [(0.0, position, ())]
    for pitches in sets:
        grips = _grips(fretboard, plucking, pitches, bass) or _grips(fretboard, plucking, pitches, None)
        if grips:
            paths = [_best_way(paths, grip) for grip in grips]
        else:
            paths = [(price, at, (*way, None)) for price, at, way in paths]
    return min(paths, key=lambda path: (path[0] + _shift_price(path[1], to), path[1]))[2]


def _best_way(
    paths: list[tuple[float, int, tuple[Held | None, ...]]], grip: Held
) -> tuple[float, int, tuple[Held | None, ...]]:
    price, at, way = min(paths, key=lambda path: (path[0] + _shift_price(path[1], grip.position), path[1]))
    own = grip.cost + _HIGH_STRINGS * sum(place.string for place in grip.places)
    return price + _shift_price(at, grip.position) + own, grip.position or at, (*way, grip)


def _shift_price(before: int, after: int) -> float:
    shift = abs(after - before) if before and after else 0
    return _SHIFT * shift + _FAR_SHIFT * (shift > FREE_SHIFT)
