"""What of the comp is heard, before anything is voiced."""

from __future__ import annotations

from collections import Counter
from itertools import islice
from typing import Any

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.comping import Stroke, comp_strokes, pushes_of
from introit.arrange.heard import hits_of
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.melody import write_melody
from introit.arrange.plan import plan_intro
from introit.arrange.review.hearing import Hearing
from introit.arrange.review.sweep import settings
from introit.arrange.rhythms import rhythms_of, with_rhythms
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import MELODY, Score, ScoreNote
from introit.arrange.shelf import feel_of
from introit.arrange.voicing import Hits, Wish, voice
from introit.library.content import program_root
from introit.library.measures import Measures, load_measures
from introit.library.model import Library

FORM = "Imaj9 | vi9 | ii9 | V13"


@pytest.fixture(scope="module")
def measures() -> Measures:
    return load_measures([program_root()])


def scene_of(make: Any, line_up: LineUp) -> Scene:
    tune = make.tune("C")
    return set_scene(plan_intro(make.intro(make.form(FORM)), tune, tune.key), Stage(line_up))


def struck(scene: Scene, *units: int) -> list[Stroke]:
    return [Stroke(scene.units[unit].start, scene.units[unit].end, unit, accent=False) for unit in units]


def sung(scene: Scene, unit: int) -> ScoreNote:
    start = scene.units[unit].start
    return ScoreNote(onset=start, length=480, harmony_tick=start, part=MELODY, pitch=76)


def test_a_chord_that_the_melody_states_is_not_heard_in_the_comp(make: Any) -> None:
    scene = scene_of(make, LineUp.WITH_KEYS)
    assert hits_of(scene, struck(scene, 0, 2, 2, 3), [sung(scene, 1)]).times == {0: 1, 2: 2, 3: 1}


def test_a_chord_that_nobody_sounds_gets_a_grip(make: Any) -> None:
    scene = scene_of(make, LineUp.WITH_KEYS)
    assert hits_of(scene, struck(scene, 0, 2, 3), []).times == dict.fromkeys(range(4), 1)


def test_a_guitar_alone_grips_a_chord_under_its_melody_too(make: Any) -> None:
    scene = scene_of(make, LineUp.SOLO_GUITAR)
    assert set(hits_of(scene, struck(scene, 0, 2, 3), [sung(scene, 1)]).times) == {0, 1, 2, 3}


@pytest.mark.parametrize("texture", ["block", "rolled", "call and response"])
def test_what_is_said_to_be_struck_is_struck(shipped: Library, measures: Measures, texture: str) -> None:
    """As often, and first there, as the finished score has it, but where one pair of hands thins it."""
    seen = 0
    for intro in shipped.intros.values():
        if {passage.texture for passage in intro.passages} != {texture}:
            continue
        for setting in islice(settings(intro, shipped, keys_each=1), 0, None, 5):
            if setting.line_up is LineUp.SOLO_GUITAR or setting.tune.leading.colla_voce:
                continue
            plan = plan_intro(intro, setting.tune, setting.tune.key)
            score = arrange(plan, shipped, stage=Stage(setting.line_up), seed=setting.seed)
            found = heard_in(score, measures)
            said = predicted(score, shipped)
            assert {unit: times for unit, times in said.times.items() if times} == Counter(found.values())
            first = {unit: min(tick for tick in found if found[tick] == unit) for unit in found.values()}
            assert {unit: said.first.get(unit, score.scene.units[unit].start) for unit in first} == first
            seen += 1
    assert seen > 20


def heard_in(score: Score, measures: Measures) -> dict[int, int]:
    """Tick of each hit of the comp, to the unit that it sounds."""
    hits = Hearing(score, None, measures).hits
    return {hit.onset: score.scene.unit_at(max(hit.onset, hit.notes[0].harmony_tick)) for hit in hits}


def predicted(score: Score, library: Library) -> Hits:
    plain = set_scene(score.plan, score.scene.stage, seed=score.scene.seed)
    melody = write_melody(plain)
    rhythms = rhythms_of(plain, feel_of(plain.plan.tune, library), library)
    scene = with_rhythms(plain, rhythms)
    strokes = comp_strokes(scene, rhythms, melody=melody, pushes=pushes_of(scene.plan.tune.feel))
    return hits_of(scene, strokes, melody)


@pytest.mark.parametrize("line_up", [LineUp.WITH_KEYS, LineUp.WITH_BASS])
def test_a_chord_that_is_not_heard_changes_nothing_for_the_others(make: Any, line_up: LineUp) -> None:
    scene = scene_of(make, line_up)
    wishes = [Wish(ceiling=77, floor=48)] * 4
    low = [*wishes[:1], wishes[1]._replace(ceiling=60), *wishes[2:]]
    hits = Hits({0: 1, 2: 1, 3: 1})
    one, other = (voice(scene, asked, hits=hits) for asked in (wishes, low))
    assert [one[unit] for unit in hits.times] == [other[unit] for unit in hits.times]
    assert other[1].top <= 60
