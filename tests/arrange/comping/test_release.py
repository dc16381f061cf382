"""How long hits sound: three in ten short and three in ten held (common practice, no source)."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.comping import comp_strokes, pushes_of
from introit.arrange.comping.figure import EIGHTH
from introit.arrange.comping.release import Hit, balanced, lengths, wanted
from introit.arrange.line_up import Stage
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.library.model import Melody
from introit.units import TICKS_PER_QUARTER as BEAT

eighths = st.integers(1, 8).map(lambda count: count * EIGHTH)


@given(st.lists(st.tuples(eighths, eighths), max_size=16), st.sampled_from([6, 8, 10]))
def test_enough_are_short_and_enough_held_wherever_they_can_be(
    hits: list[tuple[int, int]], slots: int
) -> None:
    rooms = [room for room, _ in hits]
    found = balanced(rooms, [min(wish, room) for room, wish in hits], slots=slots)
    assert all(EIGHTH <= length <= room for length, room in zip(found, rooms, strict=True))
    able = sum(room >= BEAT for room in rooms)
    assert sum(length >= BEAT for length in found) >= min(able, 0.3 * len(hits))
    if able >= 0.3 * len(hits) and len(hits) > 1:
        assert sum(length <= 3 * BEAT // 4 for length in found) >= 0.3 * len(hits)


@pytest.mark.parametrize(
    ("hits", "asked"), [(0, 0), (1, 1), (2, 1), (3, 1), (4, 2), (8, 4), (10, 4), (17, 7)]
)
def test_one_more_is_asked_for_than_the_share_where_both_can_have_it(hits: int, asked: int) -> None:
    assert wanted(hits) == asked
    assert asked >= 0.3 * hits
    assert 2 * asked <= hits or hits == 1


def test_a_hit_is_held_for_a_dotted_quarter_and_in_three_for_a_quarter() -> None:
    hits = [Hit(number * 3 * EIGHTH, BEAT, 3 * EIGHTH, 3 * EIGHTH, fixed=False) for number in range(4)]
    assert sorted(lengths(hits, slots=8)) == [EIGHTH, EIGHTH, 3 * EIGHTH, 3 * EIGHTH]
    assert sum(length >= BEAT for length in lengths(hits, slots=6)) == 2


def test_what_has_a_beat_of_room_is_held_where_nothing_has_more() -> None:
    hits = [Hit(number * BEAT, EIGHTH, BEAT, BEAT, fixed=False) for number in range(4)]
    assert sorted(lengths(hits, slots=8)) == [EIGHTH, EIGHTH, BEAT, BEAT]


def test_a_steady_rhythm_is_left_as_it_is() -> None:
    hits = [Hit(number * BEAT, EIGHTH, BEAT, BEAT, fixed=True) for number in range(8)]
    assert lengths(hits, slots=8) == [EIGHTH] * 8


def test_what_may_be_cut_is_held_but_not_counted_on() -> None:
    """Of eight hits with room, four may be cut: the other four are the held ones."""
    rooms, sure = [2 * BEAT] * 8, [EIGHTH, 2 * BEAT] * 4
    assert balanced(rooms, [2 * BEAT] * 8, sure=sure) == [EIGHTH, 2 * BEAT] * 4
    assert balanced(rooms, [EIGHTH] * 8, sure=sure) == [EIGHTH, 2 * BEAT] * 4
    assert balanced(rooms, [EIGHTH] * 8, sure=[EIGHTH] * 8).count(2 * BEAT) == wanted(8)


def scene_of(make: Any, seed: int = 1, **fields: Any) -> Scene:
    tune = make.tune("C", **fields)
    intro = make.intro(make.form("Imaj7 vi7 | ii7 V7 | iii7 VI7 | ii7 V7"), melody=Melody("none"))
    return set_scene(plan_intro(intro, tune, tune.key), Stage(), seed=seed)


@pytest.mark.parametrize("pickup", ["0", "1"])
def test_in_a_ballad_every_chord_rings(make: Any, pickup: str) -> None:
    """To the next hit, its chord's end or the pickup, whatever its rhythm: common practice, no source."""
    scene = scene_of(make, feel="ballad", pickup=Fraction(pickup))
    stabs = make.rhythm((make.hit("0", "1/2"), make.hit("3/2", "1/2")))
    strokes = comp_strokes(scene, [[stabs]], pushes=pushes_of("ballad"))
    nexts = [stroke.onset for stroke in strokes[1:]]
    for stroke, following in zip(strokes, [*nexts, scene.plan.pickup_tick], strict=True):
        assert stroke.end == min(following, scene.chord_of(stroke.unit).end, scene.plan.pickup_tick)


def test_a_chord_is_seldom_left_an_eighth_after_it_was_struck(make: Any) -> None:
    """In three, with a chord on three, the rhythm does just that: judgement, no source."""
    three = make.meters[1]
    figures = make.rhythm((make.hit("2", "1/2"), make.hit("5/2", "1", push=True)), meter=three)
    left = 0
    for seed in range(24):
        strokes = comp_strokes(scene := scene_of(make, seed, meter=three), [[figures]])
        for stroke, following in pairwise(strokes):
            pushes = scene.units[following.unit].start > following.onset
            states = scene.chord_of(stroke.unit).onset == stroke.onset
            left += pushes and states and following.onset - stroke.onset == EIGHTH
    assert left <= 12  # of 24 intros, whose rhythm has it in every bar
