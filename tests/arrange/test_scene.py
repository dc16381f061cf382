"""Passages and units on the bar grid, stretched and halved too."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.line_up import Stage
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.variation import dice
from introit.library.model import Passage

PASSAGES = (Passage(1, "bell"), Passage(3, "block"), Passage(-1, "rolled"))
FORM = "Imaj9 vi9 | ii9 V13 | iii7 VI7 | ii7 V7"


def scene_of(make: Any, *, seed: int = 0, **fields: Any) -> Scene:
    tune = make.tune(**fields)
    written = make.intro(make.form(FORM), passages=PASSAGES, stretch_above=200, halve_below=60)
    return set_scene(plan_intro(written, tune, tune.key), Stage(), seed=seed)


@pytest.mark.parametrize(
    ("tempo", "bars", "expected"),
    [
        (120, 4, [(0, "bell"), (2, "block"), (3, "rolled")]),
        (
            240,
            8,
            [(0, "bell"), (4, "block"), (7, "rolled")],
        ),  # a bar lasts two; the last stays the last
        (50, 2, [(0, "bell"), (1, "rolled")]),  # two begin in one bar: the later of them is played
    ],
)
def test_passages_follow_the_bars(make: Any, tempo: float, bars: int, expected: list[Any]) -> None:
    scene = scene_of(make, tempo=tempo)
    assert scene.plan.bars == bars
    starts = [(one.start // scene.plan.bar_ticks, one.texture) for one in scene.passages]
    assert starts == expected
    assert scene.passages[-1].end == scene.plan.head_tick
    assert all(before.end == after.start for before, after in pairwise(scene.passages))


@pytest.mark.parametrize("tempo", [50, 120, 240])
def test_a_unit_is_one_chord_in_one_bar_and_one_passage(make: Any, tempo: float) -> None:
    scene = scene_of(make, tempo=tempo)
    assert scene.units[0].start == 0
    assert scene.units[-1].end == scene.plan.head_tick
    assert all(before.end == after.start for before, after in pairwise(scene.units))
    for index, unit in enumerate(scene.units):
        assert unit.end - unit.start <= scene.plan.bar_ticks
        for tick in (unit.start, unit.end - 1):
            assert scene.unit_at(tick) == index
            assert scene.plan.at(tick) == unit.chord
            assert scene.passage_at(tick) == scene.passages[unit.passage]
        assert scene.chord_of(index) is scene.plan.chords[unit.chord]


def test_dice_fall_the_same_for_the_same_seed_and_decision() -> None:
    thrown = [dice(7, "comping", 3).random() for _ in range(2)]
    assert thrown[0] == thrown[1]
    others = {dice(8, "comping", 3).random(), dice(7, "comping", 4).random(), dice(7, "voicing", 3).random()}
    assert len(others | {thrown[0]}) == 4
