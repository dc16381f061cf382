"""What of the comp is heard, before anything is voiced."""

from __future__ import annotations

from typing import Any

import pytest

from introit.arrange.comping import Stroke
from introit.arrange.heard import hits_of
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import MELODY, ScoreNote
from introit.arrange.voicing import Wish, voice

FORM = "Imaj9 | vi9 | ii9 | V13"


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
    assert hits_of(scene, struck(scene, 0, 2, 2, 3), [sung(scene, 1)]) == {0: 1, 2: 2, 3: 1}


def test_a_chord_that_nobody_sounds_gets_a_grip(make: Any) -> None:
    scene = scene_of(make, LineUp.WITH_KEYS)
    assert hits_of(scene, struck(scene, 0, 2, 3), []) == dict.fromkeys(range(4), 1)


def test_a_guitar_alone_grips_a_chord_under_its_melody_too(make: Any) -> None:
    scene = scene_of(make, LineUp.SOLO_GUITAR)
    assert set(hits_of(scene, struck(scene, 0, 2, 3), [sung(scene, 1)])) == {0, 1, 2, 3}


@pytest.mark.parametrize("line_up", [LineUp.WITH_KEYS, LineUp.WITH_BASS])
def test_a_chord_that_is_not_heard_changes_nothing_for_the_others(make: Any, line_up: LineUp) -> None:
    scene = scene_of(make, line_up)
    wishes = [Wish(ceiling=77, floor=48)] * 4
    low = [*wishes[:1], wishes[1]._replace(ceiling=60), *wishes[2:]]
    hits = {0: 1, 2: 1, 3: 1}
    one, other = (voice(scene, asked, hits=hits) for asked in (wishes, low))
    assert [one[unit] for unit in hits] == [other[unit] for unit in hits]
    assert other[1].top <= 60
