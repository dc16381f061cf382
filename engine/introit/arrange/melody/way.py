"""The cheapest way through the line's notes: dynamic programming over pitches and last moves."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from introit.arrange.melody.palette import Palette, Status
from introit.arrange.melody.register import Register
from introit.arrange.melody.slots import Duty, Slot

Prices = NDArray[np.float64]

NEVER = 60.0
"""The price of what a line does not do: over all that it can save by it."""

# Prices of moves by semitones, in the coin of `palette`: steps free, leaps dear. Judgement, no source.
_MOVES = {0: 1.0, 1: 0.1, 2: 0.0, 3: 0.4, 4: 0.5, 5: 0.8, 7: 1.4, 8: 2.5, 9: 2.5, 12: 5.0}
_AFTER_REST = {0: 0.6, 1: 0.1, 2: 0.0, 3: 0.3, 4: 0.4, 5: 0.5, 7: 0.9, 8: 1.5, 9: 1.5, 12: 3.0}
_ANOTHER_LEAP = 20.0
"""Tritones, sevenths and what is wider than an octave."""

# Classes of moves: repeat, step up and down, skip (a third) up and down, leap up and down.
_REPEAT, _STEP, _SKIP, _LEAP = 0, 1, 3, 5
_CLASSES = 7
# What a move costs after a move: rows are the last one, columns the next one, both by class. A leap is
# answered by a step, best the other way, and a third likes to be. Judgement, no source.
_TURNS = (
    (1.5, 0.0, 0.0, 0.2, 0.2, 0.5, 0.5),
    (0.4, 0.0, 0.2, 0.2, 0.3, 0.8, 0.8),
    (0.4, 0.2, 0.0, 0.3, 0.2, 0.8, 0.8),
    (0.8, 0.2, 0.0, 0.9, 1.2, 3.0, 3.0),
    (0.8, 0.0, 0.2, 1.2, 0.9, 3.0, 3.0),
    (NEVER, 1.0, 0.0, NEVER, NEVER, NEVER, NEVER),
    (NEVER, 0.0, 1.0, NEVER, NEVER, NEVER, NEVER),
)


class Way(NamedTuple):
    """A way through all notes.

    Attributes:
        cost: `NEVER` and more where it does something that a line does not do.
        pitches: MIDI notes.
    """

    cost: float
    pitches: list[int]

    @property
    def steps(self) -> float:
        """The share of its moves that are steps, 0 to 1."""
        moves = [abs(after - before) for before, after in pairwise(self.pitches)]
        return sum(1 <= move <= 2 for move in moves) / len(moves) if moves else 1.0


def cheapest_way(
    slots: Sequence[Slot],
    palettes: Sequence[Palette],
    prices: Prices,
    register: Register,
    *,
    strict: float = 1.0,
) -> Way:
    """The cheapest way.

    Args:
        slots: the notes, in order.
        palettes: of the chord under each.
        prices: [note, pitch from the register's lowest].
        register: that it keeps to.
        strict: how many times as much as usual moves count against pitches.
    """
    tables = _tables(register.size)
    moves = [
        strict * _moves(tables, slots[index], slots[index + 1], palettes[index], register)
        for index in range(len(slots) - 1)
    ]
    state = np.full((_CLASSES, register.size), 100 * NEVER)
    state[_REPEAT] = prices[0]
    states = [state]
    for move, price in zip(moves, prices[1:], strict=True):
        best = (state[:, :, None] + tables.turns).min(0) + move
        state = (best + tables.classes).min(1) + price
        states.append(state)
    return Way(float(state.min()), _traced(states, moves, tables, register))


class _Tables(NamedTuple):
    """What moves cost in a register of some size.

    Attributes:
        moves: [after a rest or not, from, to].
        ways: by the status of the pitch that is left, [status, from, to].
        steps: [from, to], out of an approach note.
        turns: [class of the last move, from, to].
        classes: [class, from, to]: 0 where the move is of that class, else a wall.
    """

    moves: Prices
    ways: Prices
    steps: Prices
    turns: Prices
    classes: Prices


@lru_cache(maxsize=8)
def _tables(size: int) -> _Tables:
    move = np.arange(size) - np.arange(size)[:, None]
    distance = np.abs(move)
    wall = np.full((size, size), NEVER)
    step = np.where((distance == 1) | (distance == 2), 0.0, wall)
    half_step = np.where(distance == 1, 0.0, wall)
    up = np.select([distance == 0, distance <= 2, distance <= 4], [_REPEAT, _STEP, _SKIP], _LEAP)
    class_of = up + (move < 0)
    ways = np.zeros((len(Status), size, size))
    ways[Status.PASSING], ways[Status.CHROMATIC] = step, half_step
    return _Tables(
        moves=np.stack([_priced(distance, _MOVES), _priced(distance, _AFTER_REST)]),
        ways=ways,
        steps=step,
        turns=np.array(_TURNS)[:, class_of],
        classes=np.where(np.arange(_CLASSES)[:, None, None] == class_of, 0.0, 100 * NEVER),
    )


def _priced(distance: NDArray[np.intp], prices: dict[int, float]) -> Prices:
    by_distance = np.array([prices.get(size, _ANOTHER_LEAP) for size in range(128)])
    priced: Prices = by_distance[distance]
    return priced


def _moves(tables: _Tables, slot: Slot, following: Slot, palette: Palette, register: Register) -> Prices:
    """What each move from one slot to the next costs."""
    moves: Prices = tables.moves[int(following.after_rest)]
    if following.duty is Duty.LEADING and slot.end == following.onset:
        moves = moves + tables.steps
    if slot.duty is Duty.HELD:
        return moves
    statuses = palette.statuses[register.lowest : register.highest + 1]
    moves = moves + tables.ways[statuses, np.arange(register.size)]
    if slot.duty is Duty.APPROACH:
        moves = moves + tables.steps
    return moves


def _traced(states: list[Prices], moves: list[Prices], tables: _Tables, register: Register) -> list[int]:
    """The way back from the cheapest end."""
    last, pitch = divmod(int(states[-1].argmin()), register.size)
    way = [pitch]
    for state, move in zip(reversed(states[:-1]), reversed(moves), strict=True):
        costs = state + tables.turns[:, :, pitch] + (move + tables.classes[last])[:, pitch]
        last, pitch = divmod(int(costs.argmin()), register.size)
        way.append(pitch)
    return [register.lowest + pitch for pitch in reversed(way)]
