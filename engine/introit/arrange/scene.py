"""A plan on its stage: the passages with their textures, and the units that voicings are found for."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise
from random import Random
from typing import NamedTuple

from introit.arrange.line_up import Seats, Stage
from introit.arrange.plan import Plan, PlannedChord
from introit.arrange.variation import dice


class Passage(NamedTuple):
    """A stretch of bars in one texture.

    Attributes:
        start, end: ticks, at bar lines.
        texture: a name in `library.intros.TEXTURES`.
        comping, bass: ids in place of the intro's; None for the intro's own.
        steady: whether its comping is a pattern that is repeated as it stands.
        top: for `common tone`, the degree of the key that stays on top; None for the best one.
        moves: for `inner line`, which line moves; None for the best one.
    """

    start: int
    end: int
    texture: str
    comping: str | None = None
    bass: str | None = None
    top: str | None = None
    moves: str | None = None
    steady: bool = False


class Unit(NamedTuple):
    """A stretch with one voicing: one chord, in one bar and one passage.

    Attributes:
        start, end: ticks.
        chord: index of the plan's chord.
        passage: index of the scene's passage.
    """

    start: int
    end: int
    chord: int
    passage: int


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything that is settled before the first note.

    Attributes:
        plan: the chords.
        stage: who plays on what.
        seed: of this playing.
        passages: in order, without gaps, from tick 0 to the head.
        units: in order, without gaps, from tick 0 to the head.
        side: the bar of their patterns of several bars that all begin with, counted from 0.
    """

    plan: Plan
    stage: Stage
    seed: int
    passages: tuple[Passage, ...]
    units: tuple[Unit, ...]
    side: int = 0

    @property
    def seats(self) -> Seats:
        """What the line-up asks."""
        return self.stage.seats

    def dice(self, *what: object) -> Random:
        """Dice for one decision of this playing; see `variation.dice`."""
        return dice(self.seed, *what)

    def chord_of(self, unit: int) -> PlannedChord:
        """The chord of a unit, by its index."""
        return self.plan.chords[self.units[unit].chord]

    def unit_at(self, tick: int) -> int:
        """Index of the unit that holds a tick; the last one from the head on."""
        return max(0, bisect_right(self.units, tick, key=_start) - 1)

    def passage_at(self, tick: int) -> Passage:
        """The passage that holds a tick; the last one from the head on."""
        return self.passages[max(0, bisect_right(self.passages, tick, key=_start) - 1)]


def set_scene(plan: Plan, stage: Stage, *, seed: int = 0) -> Scene:
    """Lays an intro's passages over its plan, and finds the units."""
    passages = _passages(plan)
    return Scene(plan, stage, seed, passages, _units(plan, passages))


def _passages(plan: Plan) -> tuple[Passage, ...]:
    starts = {}
    for passage in plan.intro.passages:
        bar = plan.bars - 1 if passage.start < 0 else int((passage.start - 1) * plan.scale)
        starts[min(bar, plan.bars - 1) * plan.bar_ticks] = passage  # halved, two may begin at once: the later
    ends = [*sorted(starts)[1:], plan.head_tick]
    return tuple(
        Passage(start, end, one.texture, one.comping, one.bass, one.top, one.moves)
        for (start, one), end in zip(sorted(starts.items(), key=lambda item: item[0]), ends, strict=True)
    )


def _units(plan: Plan, passages: tuple[Passage, ...]) -> tuple[Unit, ...]:
    bars = range(0, plan.head_tick + 1, plan.bar_ticks)
    edges = sorted({*bars, *(chord.onset for chord in plan.chords)})
    starts = [passage.start for passage in passages]
    return tuple(
        Unit(start, end, plan.at(start), bisect_right(starts, start) - 1) for start, end in pairwise(edges)
    )


def _start(stretch: Passage | Unit) -> int:
    return stretch.start
