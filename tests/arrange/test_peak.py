"""One highest note, late but not last, where no melody is there to bring it (common practice, no source)."""

from __future__ import annotations

from typing import Any

import pytest

from introit.arrange.line_up import LineUp, Stage
from introit.arrange.peak import with_a_peak
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.textures.crown import EARLIEST, LATEST
from introit.arrange.voicing import Wish, voice

PLAIN = Wish(ceiling=77, floor=48)
FORM = "Imaj9 vi9 | ii9 V13 | iii7 VI7 | ii7 V7"


def scene_of(make: Any, line_up: LineUp, key: str, form: str = FORM) -> Scene:
    tune = make.tune(key)
    return set_scene(plan_intro(make.intro(make.form(form)), tune, tune.key), Stage(line_up))


@pytest.mark.parametrize("key", ["C", "Eb", "A"])
@pytest.mark.parametrize("line_up", [LineUp.WITH_KEYS, LineUp.WITH_BASS])
def test_the_top_voice_has_one_peak_in_its_place(make: Any, line_up: LineUp, key: str) -> None:
    scene = scene_of(make, line_up, key)
    wishes = [PLAIN] * len(scene.units)
    found = voice(scene, wishes)
    peaked = with_a_peak(scene, wishes, found, ())
    tops = [voicing.top for voicing in (found if peaked is None else voice(scene, peaked))]
    peaks = [unit for unit, top in enumerate(tops) if top == max(tops)]
    assert len({scene.units[unit].chord for unit in peaks}) == 1
    assert EARLIEST <= scene.units[peaks[0]].start / scene.plan.head_tick <= LATEST


def test_a_short_intro_and_a_tone_on_top_are_left_alone(make: Any) -> None:
    short = scene_of(make, LineUp.WITH_KEYS, "C", "ii9 V13")
    wishes = [PLAIN] * len(short.units)
    assert with_a_peak(short, wishes, voice(short, wishes), ()) is None
    scene = scene_of(make, LineUp.WITH_KEYS, "C")
    held = [PLAIN._replace(top=frozenset({0}))] * len(scene.units)
    assert with_a_peak(scene, held, voice(scene, held), ()) is None
