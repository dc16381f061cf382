"""The melody as a line of its own: all its notes found at once.

Its rhythm comes from `phrases`, what each note must do from `slots`, what each pitch costs there from here,
and the cheapest way from `way`. Harmony, tempo and line-up decide it, never the seed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from introit.arrange.arc import peak_span
from introit.arrange.melody.ending import goal_of
from introit.arrange.melody.palette import Palette, palette_of
from introit.arrange.melody.phrases import HALF_BEAT
from introit.arrange.melody.register import Register, register_of
from introit.arrange.melody.slots import Duty, Slot, lead_in_slots, line_slots, sounds_on_strong_beat
from introit.arrange.melody.way import NEVER, Prices, Way, cheapest_way
from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.arrange.score import MELODY, ScoreNote
from introit.units import TICKS_PER_QUARTER

STEPS = 0.7
"""At least so many of a line's moves are steps. Common practice, no source."""
_STRICT = 4.0
"""Where a line has fewer, moves count so many times as much."""
_TRIES = 4
"""Highest notes that are tried where the first can only be reached by breaking a rule."""

# Prices of the line's shape, in the coin of `palette`. Judgement, no source.
_ARC = 0.12
"""A semitone off the arc that rises to the highest note and falls from it, waving within its phrases."""
_WAVE = 2.5
"""Semitones that the wave goes up and down: a line that only climbs says nothing."""
_OFF_PEAK, _LONG_PEAK, _LAST_PEAK = 0.15, 0.4, 2.0
_LEANS = 2.0
"""The last note, where it comes on a strong beat, as a tone of its chord; twice as much is added to any other
one, for a clash there is no way home."""
_BELOW_TOP = 2
"""Semitones under the register's top at which the highest note likes to lie."""


class Peak(NamedTuple):
    """A highest note: what it costs, which slot has it, and its pitch from the register's lowest."""

    price: float
    slot: int
    step: int


def line_notes(scene: Scene) -> list[ScoreNote]:
    """A singing line of guide tones and tensions, by step where it can; the same for every seed."""
    return sung(scene, line_slots(scene))


def lead_in(scene: Scene, notes: Sequence[ScoreNote] = ()) -> list[ScoreNote]:
    """The way to the tune's first note where that is named, after the notes of a melody if there are any."""
    free = notes[-1].end + HALF_BEAT if notes else 0
    after = notes[-1].pitch if notes else None
    return sung(scene, lead_in_slots(scene, free), peak=False, after=after)


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
    prices = _slot_prices(plan, slots, palettes, register)
    if after is not None:
        prices[0] += _near(register, after)
    peaks = _peaks(plan, slots, prices, register)[:_TRIES] if peak else []
    pitches = _best(_ways(plan, slots, palettes, prices, register, peaks=peaks))
    return _written(plan, slots, palettes, pitches)


def _best(ways: Iterator[Way]) -> list[int]:
    """The first way that keeps every rule; else the one that comes nearest to it."""
    tried: list[Way] = []
    for way in ways:
        if way.cost < NEVER and way.steps >= STEPS:
            return way.pitches
        tried.append(way)
    return min(tried, key=lambda way: (way.cost >= NEVER, way.steps < STEPS, way.cost)).pitches


def _ways(
    plan: Plan,
    slots: Sequence[Slot],
    palettes: Sequence[Palette],
    prices: Prices,
    register: Register,
    *,
    peaks: Sequence[Peak],
) -> Iterator[Way]:
    for peak in peaks or (None,):
        shaped = prices if peak is None else _shaped(plan, slots, prices, peak)
        yield cheapest_way(slots, palettes, shaped, register)
        yield cheapest_way(slots, palettes, shaped, register, strict=_STRICT)


def _slot_prices(
    plan: Plan, slots: Sequence[Slot], palettes: Sequence[Palette], register: Register
) -> Prices:
    """What each pitch of the register costs in each slot, wherever the line goes."""
    low, high = register.lowest, register.highest + 1
    prices = np.array(
        [_of_duty(palette, slot.duty)[low:high] for slot, palette in zip(slots, palettes, strict=True)]
    )
    goal = goal_of(plan)
    if goal is None:
        return prices
    apart = (np.arange(low, high) - goal.pitch_class) % 12
    for index, slot in enumerate(slots):
        if slot.clear:
            prices[index][apart == 0] += 4 * NEVER
        if slot.duty is Duty.LEADING:
            prices[index][(apart > 2) & (apart < 10)] += 4 * NEVER
            if sounds_on_strong_beat(plan, slot.onset, slot.end):
                inside = np.isin(np.arange(low, high) % 12, list(palettes[index].members))
                near = (apart <= 2) | (apart >= 10)
                prices[index] = np.where(inside & near & (apart != 0), _LEANS, prices[index] + 2 * _LEANS)
    return prices


def _of_duty(palette: Palette, duty: Duty) -> Prices:
    by_duty = {Duty.HELD: palette.held, Duty.LIGHT: palette.light, Duty.LEADING: palette.leading}
    return by_duty.get(duty, palette.approach)


def _peaks(plan: Plan, slots: Sequence[Slot], prices: Prices, register: Register) -> list[Peak]:
    """The highest notes that the line could have, the best first; none without a note in the right place."""
    first, last = peak_span(plan)
    top = register.size - 1
    return sorted(
        Peak(
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
    )


def _shaped(plan: Plan, slots: Sequence[Slot], prices: Prices, peak: Peak) -> Prices:
    """Prices that draw the line along its arc, with the highest note once."""
    size = prices.shape[1]
    steps = np.arange(size)
    shaped: Prices = prices + _ARC * np.abs(steps - _arc(plan, slots, peak, size)[:, None])
    own = shaped[peak.slot].copy()
    shaped[:, peak.step :] += 2 * NEVER
    shaped[peak.slot] = own + 2 * NEVER * (steps != peak.step)
    return shaped


def _arc(plan: Plan, slots: Sequence[Slot], peak: Peak, size: int) -> Prices:
    """Where the line would like to lie: up to the highest note and down again, in waves of two bars."""
    onsets = np.array([slot.onset for slot in slots], dtype=float)
    top = slots[peak.slot].onset
    arc = np.interp(onsets, [0, top, plan.head_tick], [size / 3, peak.step - 1, size / 3])
    phrase = 2 * plan.bar_ticks
    wave = np.cos((onsets - top) / phrase * 2 * np.pi)
    return np.asarray(arc + _WAVE * (wave - 1) / 2 * (1 + (top - onsets > phrase)), dtype=np.float64)


def _near(register: Register, pitch: int) -> Prices:
    """Prices of a first note by its distance from the note before it."""
    distances = np.abs(np.arange(register.lowest, register.highest + 1) - pitch)
    return np.asarray(0.3 * np.maximum(0, distances - 2) + (distances == 0), dtype=np.float64)


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
        if palette_of(plan.chords[chord]).held[pitch] >= NEVER:
            return plan.chords[chord].onset
    return end
