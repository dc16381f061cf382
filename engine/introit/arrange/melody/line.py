"""The melody as a line of its own: one way through all its notes at once, the cheapest there is.

What a line does from note to note is priced, and the cheapest line is found by dynamic programming over
pitches and over the move that led to each, so that a leap can be answered. Harmony, tempo and line-up decide
it, never the seed.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from introit.arrange.melody.ending import goal_of
from introit.arrange.melody.palette import Palette, Status, palette_of
from introit.arrange.melody.phrases import PEAK
from introit.arrange.melody.register import Register, register_of
from introit.arrange.melody.slots import Duty, Slot, line_slots
from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.arrange.score import MELODY, ScoreNote
from introit.units import TICKS_PER_QUARTER

Prices = NDArray[np.float64]

# Prices of the line, in the same coin as a held note's degree. Judgement, no source.
_MOVES = {0: 1.0, 1: 0.1, 2: 0.0, 3: 0.3, 4: 0.4, 5: 0.8, 7: 1.4, 8: 2.5, 9: 2.5, 12: 5.0}
_AFTER_REST = {0: 0.6, 1: 0.1, 2: 0.0, 3: 0.2, 4: 0.3, 5: 0.5, 7: 0.9, 8: 1.5, 9: 1.5, 12: 3.0}
_ANOTHER_LEAP = 20.0
"""Tritones, sevenths and what is wider than an octave."""
_NEVER = 60.0
_ARC = 0.06
"""A semitone off the arc that rises to the highest note and falls from it."""
_OFF_PEAK, _LONG_PEAK, _LAST_PEAK = 0.15, 0.4, 1.0
_BELOW_TOP = 2
"""Semitones under the register's top at which the highest note likes to lie."""

# Classes of moves: repeat, step up and down, skip (a third) up and down, leap up and down.
_REPEAT, _STEP, _SKIP, _LEAP = 0, 1, 3, 5
_CLASSES = 7


def line_notes(scene: Scene) -> list[ScoreNote]:
    """A singing line of guide tones and tensions, by step where it can; the same for every seed."""
    slots = line_slots(scene)
    return sung(scene, slots)


def sung(
    scene: Scene, slots: Sequence[Slot], *, peak: bool = True, after: int | None = None
) -> list[ScoreNote]:
    """Slots with the cheapest pitches.

    Args:
        scene: where.
        slots: in order.
        peak: whether one of them is to be the highest note.
        after: pitch of a note before them, None for none.
    """
    if not slots:
        return []
    plan, register = scene.plan, register_of(scene)
    palettes = [palette_of(plan.chords[slot.chord]) for slot in slots]
    prices = _slot_prices(plan, slots, palettes, register, peak=peak)
    if after is not None:
        prices[0] += _near(register, after)
    pitches = _cheapest(slots, palettes, prices, register)
    return _written(plan, slots, palettes, pitches)


def _written(
    plan: Plan, slots: Sequence[Slot], palettes: Sequence[Palette], pitches: Sequence[int]
) -> list[ScoreNote]:
    """The notes; one ends with its chord unless the next chord has it too."""
    return [
        ScoreNote(
            onset=slot.onset,
            length=_end(plan, slot, pitch) - slot.onset,
            harmony_tick=plan.chords[slot.chord].onset,
            part=MELODY,
            pitch=pitch,
        )
        for slot, pitch in zip(slots, pitches, strict=True)
    ]


def _end(plan: Plan, slot: Slot, pitch: int) -> int:
    end, chord = slot.end, slot.chord
    while plan.chords[chord].end < end and chord + 1 < len(plan.chords):
        chord += 1
        if palette_of(plan.chords[chord]).held[pitch] >= _NEVER:
            return plan.chords[chord].onset
    return end


def _slot_prices(
    plan: Plan, slots: Sequence[Slot], palettes: Sequence[Palette], register: Register, *, peak: bool
) -> Prices:
    """What each pitch of the register costs in each slot."""
    low, high = register.lowest, register.highest + 1
    prices = np.array(
        [_of_duty(palette, slot.duty)[low:high] for slot, palette in zip(slots, palettes, strict=True)]
    )
    _lead_to_goal(plan, slots, prices, register)
    if peak:
        _one_peak(plan, slots, prices, register)
    return prices


def _of_duty(palette: Palette, duty: Duty) -> Prices:
    return palette.held if duty is Duty.HELD else palette.light if duty is Duty.LIGHT else palette.approach


def _lead_to_goal(plan: Plan, slots: Sequence[Slot], prices: Prices, register: Register) -> None:
    """The last slot lies a step from the tune's first note, and none near it doubles that note."""
    goal = goal_of(plan)
    if goal is None:
        return
    apart = (np.arange(register.lowest, register.highest + 1) - goal.pitch_class) % 12
    for index, slot in enumerate(slots):
        if slot.clear:
            prices[index][apart == 0] += 4 * _NEVER
        if slot.duty is Duty.LEADING:
            prices[index][(apart > 2) & (apart < 10)] += 2 * _NEVER


def _one_peak(plan: Plan, slots: Sequence[Slot], prices: Prices, register: Register) -> None:
    """Chooses the highest note, forbids it to all others, and draws the arc that leads to it."""
    first, last = (part * plan.head_tick for part in PEAK)
    top = register.size - 1
    candidates = [
        (
            prices[index][step]
            + _OFF_PEAK * abs(step - (top - _BELOW_TOP))
            - _LONG_PEAK * min(2, slot.length / TICKS_PER_QUARTER)
            + _LAST_PEAK * (index == len(slots) - 1),
            index,
            step,
        )
        for index, slot in enumerate(slots)
        if first <= slot.onset <= last and slot.duty is Duty.HELD
        for step in range(top // 2 + 2, top + 1)
    ]
    if not candidates:
        return
    _, at, highest = min(candidates)
    onsets = np.array([slot.onset for slot in slots], dtype=float)
    floor = register.size / 3
    arc = np.interp(onsets, [0, slots[at].onset, plan.head_tick], [floor, highest - 1, floor])
    prices += _ARC * np.abs(np.arange(register.size) - arc[:, None])
    own = prices[at].copy()
    prices[:, highest:] += 2 * _NEVER
    prices[at] = own
    prices[at][np.arange(register.size) != highest] += 2 * _NEVER


def _near(register: Register, pitch: int) -> Prices:
    distances = np.abs(np.arange(register.lowest, register.highest + 1) - pitch)
    return np.where(distances == 0, _MOVES[0], 0.3 * np.maximum(0, distances - 2))


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
    wall = np.full((size, size), _NEVER)
    step = np.where((distance == 1) | (distance == 2), 0.0, wall)
    half_step = np.where(distance == 1, 0.0, wall)
    class_of = np.select([distance == 0, distance <= 2, distance <= 4], [_REPEAT, _STEP, _SKIP], _LEAP) + (
        move < 0
    )
    ways = np.zeros((len(Status), size, size))
    ways[Status.PASSING], ways[Status.CHROMATIC] = step, half_step
    return _Tables(
        moves=np.stack([_priced(distance, _MOVES), _priced(distance, _AFTER_REST)]),
        ways=ways,
        steps=step,
        turns=np.array(_TURNS)[:, class_of],
        classes=np.where(np.arange(_CLASSES)[:, None, None] == class_of, 0.0, 1000.0),
    )


def _priced(distance: NDArray[np.intp], prices: dict[int, float]) -> Prices:
    by_distance = np.array([prices.get(size, _ANOTHER_LEAP) for size in range(128)])
    priced: Prices = by_distance[distance]
    return priced


# What a move costs after a move: rows are the last one, columns the next one; classes as above. A leap is
# answered by a step, best the other way; a third likes to be; a run goes on rather than turn. Judgement.
_TURNS = (
    (1.5, 0.0, 0.0, 0.2, 0.2, 0.5, 0.5),
    (0.4, 0.0, 0.3, 0.2, 0.4, 0.8, 0.8),
    (0.4, 0.3, 0.0, 0.4, 0.2, 0.8, 0.8),
    (0.8, 0.2, 0.0, 0.9, 1.2, 3.0, 3.0),
    (0.8, 0.0, 0.2, 1.2, 0.9, 3.0, 3.0),
    (30.0, 1.0, 0.0, 30.0, 30.0, 30.0, 30.0),
    (30.0, 0.0, 1.0, 30.0, 30.0, 30.0, 30.0),
)


def _cheapest(
    slots: Sequence[Slot], palettes: Sequence[Palette], prices: Prices, register: Register
) -> list[int]:
    """The cheapest way through: pitches."""
    tables = _tables(register.size)
    moves = [
        _moves(tables, slots[index], slots[index + 1], palettes[index], register)
        for index in range(len(slots) - 1)
    ]
    state = np.full((_CLASSES, register.size), 1000.0)
    state[_REPEAT] = prices[0]
    states = [state]
    for move, price in zip(moves, prices[1:], strict=True):
        best = (state[:, :, None] + tables.turns).min(0) + move
        state = (best + tables.classes).min(1) + price
        states.append(state)
    return _traced(states, moves, tables, register)


def _moves(tables: _Tables, slot: Slot, following: Slot, palette: Palette, register: Register) -> Prices:
    """What each move from one slot to the next costs."""
    moves = tables.moves[int(following.after_rest)]
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
