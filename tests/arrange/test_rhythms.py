"""Which rhythm a passage is comped in: what is named, else one of the feel's, another in another playing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.rhythms import rhythms_of, with_rhythms
from introit.arrange.ride import KEYS, ride_notes
from introit.arrange.scene import Scene, set_scene
from introit.library.model import Library, Melody
from introit.units import TICKS_PER_QUARTER

SEEDS = range(24)
FORM = "Imaj7 | vi7 | ii7 | V7"


@pytest.fixture
def comped(make: Any, shipped: Library) -> Any:
    """The scene of a seed with its passages' rhythms in it, and the rhythms."""

    def of(seed: int, *, feel: str, form: str = FORM, **fields: Any) -> tuple[Scene, list[list[str]]]:
        intro = make.intro(make.form(form), melody=Melody("none"), **fields)
        tune = make.tune(feel=feel, tempo=shipped.feels[feel].typical_tempo)
        scene = set_scene(plan_intro(intro, tune, tune.key), Stage(LineUp.TRIO), seed=seed)
        rhythms = rhythms_of(scene, shipped.feels[feel], shipped)
        return with_rhythms(scene, rhythms), [[one.id for one in own] for own in rhythms]

    return of


def homes(comped: Any, **asked: Any) -> set[str]:
    return {comped(seed, **asked)[1][0][0] for seed in SEEDS}


def test_what_an_intro_names_is_kept_in_every_playing(comped: Any) -> None:
    assert homes(comped, feel="bossa", comping="four-to-the-bar") == {"four-to-the-bar"}
    assert {comped(seed, feel="latin", comping="three-two")[0].side for seed in SEEDS} == {0}


def test_a_feel_that_lives_on_a_pattern_has_any_of_its_own(comped: Any, shipped: Library) -> None:
    assert homes(comped, feel="bossa") == set(shipped.feels["bossa"].comping)
    assert homes(comped, feel="ballad") == {"held", "held-and-three", "held-and-four"}  # in four


def test_all_passages_of_a_playing_have_the_same_pattern(comped: Any, shipped: Library) -> None:
    two = shipped.intros["home-note-held"].passages
    assert len(two) > 1
    for seed in SEEDS:
        _, rhythms = comped(seed, feel="bossa", passages=two)
        assert len({own[0] for own in rhythms}) == 1


def test_the_first_figure_of_a_swing_is_home_where_there_is_room_for_a_phrase(comped: Any) -> None:
    assert homes(comped, feel="medium-swing") == {"charleston-with-push"}
    assert len(homes(comped, feel="medium-swing", form="ii7 | V7")) > 2


def test_a_pattern_of_two_bars_begins_with_either_and_light_time_on_the_same_side(
    comped: Any, shipped: Library
) -> None:
    """The stick of the Latin feel has three strokes in one bar and two in the other."""
    latin = shipped.feels["latin"]
    first: dict[int, int] = {}
    for seed in SEEDS:
        scene, _ = comped(seed, feel="latin")
        stick = [note for note in ride_notes(scene, latin) if note.pitch == KEYS["stick"]]
        first[scene.side] = sum(note.onset < 4 * TICKS_PER_QUARTER for note in stick)
    assert first == {0: 3, 1: 2}


def test_a_rhythm_that_is_not_in_the_library_is_passed_over(make: Any, shipped: Library) -> None:
    tune = make.tune(feel="bossa")
    scene = set_scene(plan_intro(make.intro(make.form(FORM)), tune, tune.key), Stage())
    feel = replace(shipped.feels["bossa"], comping=("nowhere", "bossa-clave"))
    assert [[one.id for one in own] for own in rhythms_of(scene, feel, shipped)] == [["bossa-clave"]]
