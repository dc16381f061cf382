"""An inner line on the neck: every voice on one string, and no finger that holds is taken for what moves."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product
from typing import NamedTuple

from introit.arrange.line_up import Stage
from introit.arrange.shifting import FREE_SHIFT
from introit.arrange.textures.neck import Held, held_at
from introit.theory.fingering import OPEN_STRING
from introit.theory.fretboard import Place
from introit.theory.hand import INDEX, LITTLE
from introit.theory.holding import hand_on

_HAND, _SHIFT, _FAR_SHIFT = 1.5, 0.15, 8.0
"""Prices: what a grip costs the hand; a fret that the hand moves; moving farther than without a rest."""
_STRETCH, _HIGH, _FAR_OPEN = 1.5, 0.5, 3.0
"""Prices: each fret past a hand's four, each fret above the twelfth, an open string beside a hand high up."""
_AT_EASE, _BODY, _NEAR_NUT = 3, 12, 5

Lines = tuple[tuple[int, ...], ...]
"""The pitches of each voice, step by step; voices from the lowest up."""


class Voice(NamedTuple):
    """One voice of the grip: a note a step of the line, all alike where it holds.

    Attributes:
        pitches: MIDI notes.
        places: string and fret of each; empty on keys.
        fingers: finger of each; empty on keys.
    """

    pitches: tuple[int, ...]
    places: tuple[Place, ...] = ()
    fingers: tuple[int, ...] = ()

    @property
    def moves(self) -> bool:
        """Whether it has more than one pitch."""
        return len(set(self.pitches)) > 1


def on_neck(
    lines: Lines, stage: Stage, *, bass_place: Place | None, positions: tuple[int, ...]
) -> Iterator[tuple[float, tuple[Voice, ...]]]:
    """Every way to hold all steps of a line, with its price.

    Args:
        lines: the pitches.
        stage: neck and plucking.
        bass_place: where the lowest voice lies already, if it does.
        positions: frets near which the hand lies before and after.
    """
    neck = stage.fretboard
    for strings in combinations(range(neck.strings, 0, -1), len(lines)):
        if bass_place is not None and strings[0] != bass_place.string:
            continue
        places = [
            tuple(Place(string, fret) for pitch in line if (fret := neck.fret(pitch, string)) is not None)
            for line, string in zip(lines, strings, strict=True)
        ]
        if any(len(row) < len(lines[0]) for row in places):
            continue
        steps = [held_at(stage, state) for state in zip(*places, strict=True)]
        held = [step for step in steps if step is not None]
        fingers = _steady(held, lines, stage) if len(held) == len(steps) else None
        if fingers is not None:
            price = _price(held, positions)
            columns = zip(lines, places, zip(*fingers, strict=True), strict=True)
            yield price, tuple(Voice(line, row, tuple(column)) for line, row, column in columns)


def _steady(steps: list[Held], lines: Lines, stage: Stage) -> list[tuple[int, ...]] | None:
    """Fingers for each step, the same throughout on the voices that hold; None where there are none."""
    if len(steps) == 1:
        return [steps[0].fingers]
    moving = [number for number, line in enumerate(lines) if len(set(line)) > 1]
    for base in steps:
        rows = [_refingered(step, base, moving, stage) for step in steps]
        found = [row for row in rows if row is not None]
        if len(found) == len(steps):
            return found
    return None


def _refingered(step: Held, base: Held, moving: list[int], stage: Stage) -> tuple[int, ...] | None:
    """A step with the holding fingers of another one; what moves takes the same finger, or a free one."""
    fingers = list(base.fingers)
    choices = [
        _by_nearness(base.fingers[number]) if step.places[number].fret else (OPEN_STRING,)
        for number in moving
    ]
    for chosen in product(*choices):
        for number, finger in zip(moving, chosen, strict=True):
            fingers[number] = finger
        if _can_be(step.places, fingers, stage):
            return tuple(fingers)
    return None


def _by_nearness(usual: int) -> tuple[int, ...]:
    return tuple(sorted(range(INDEX, LITTLE + 1), key=lambda finger: abs(finger - usual)))


def _can_be(places: tuple[Place, ...], fingers: list[int], stage: Stage) -> bool:
    """Whether the fingers follow the frets, reach each other, and lie over no string that sounds lower."""
    stopped = [(place, finger) for place, finger in zip(places, fingers, strict=True) if place.fret]
    return all(
        _agree(one, other, places, stage) for one, other in combinations(sorted(stopped, key=_by_fret), 2)
    )


def _by_fret(stop: tuple[Place, int]) -> tuple[int, int]:
    return stop[0].fret, -stop[0].string


def _agree(low: tuple[Place, int], high: tuple[Place, int], places: tuple[Place, ...], stage: Stage) -> bool:
    """Two stopped notes, the first on the lower fret, or on one fret the lower string."""
    (here, finger), (there, other) = low, high
    if finger == other:
        covered = range(there.string + 1, here.string)
        free = all(place.fret >= here.fret for place in places if place.string in covered)
        return here.fret == there.fret and free and (finger == INDEX or not covered)
    if finger > other:
        return False
    millimetres = stage.fretboard.fret_mm
    distance = millimetres[there.fret] - millimetres[here.fret]
    return hand_on(stage.fretboard).hand.strain(finger, other, distance) is not None


def _price(held: list[Held], positions: tuple[int, ...]) -> float:
    price = _HAND * max(step.cost for step in held)
    price += max(_frets_price([place.fret for place in step.places]) for step in held)
    for position in positions:
        moved = abs(held[0].position - position) if held[0].position and position else 0
        price += _SHIFT * moved + _FAR_SHIFT * (moved > FREE_SHIFT)
    return price


def _frets_price(frets: list[int]) -> float:
    stopped = [fret for fret in frets if fret]
    if not stopped:
        return 0.0
    price = _STRETCH * max(0, max(stopped) - min(stopped) - _AT_EASE) + _HIGH * max(0, max(stopped) - _BODY)
    return price + _FAR_OPEN * (0 in frets and min(stopped) > _NEAR_NUT)
