"""One highest note, late but not last, where no melody is there to bring it (common practice, no source)."""

from __future__ import annotations

from typing import Any

import pytest

from introit.arrange.arc import EARLIEST, LATEST
from introit.arrange.arranger import MOST_PEAKS
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.peak import with_a_peak, without_a_late_top
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.voicing import Wish, voice
from introit.library.model import Passage

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
    for _ in range(MOST_PEAKS):
        peaked = with_a_peak(scene, wishes, found, ())
        found = found if peaked is None else voice(scene, peaked)
    tops = [voicing.top for voicing in found]
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


def test_nothing_goes_over_a_tone_that_is_held_on_top(make: Any) -> None:
    scene = scene_of(make, LineUp.WITH_KEYS, "C")
    held = PLAIN._replace(top=frozenset({7}), ceiling=67, lowest_top=67)
    wishes = [*[held] * (len(scene.units) - 2), PLAIN, PLAIN._replace(lowest_top=72)]
    found = voice(scene, wishes)
    assert found[-1].top > 67
    kept = with_a_peak(scene, wishes, found, ())
    assert kept is not None
    assert max(voicing.top for voicing in voice(scene, kept)) == 67


def test_a_line_over_the_comp_has_the_peak_to_itself(make: Any) -> None:
    tune = make.tune("C")
    for texture, first, is_left in (
        ("harmonised arpeggio", 5, True),
        ("two-hand", 5, True),
        ("call and response", 1, False),
    ):
        passages = (Passage(1, "block"), Passage(first, texture), Passage(first + 2, "block"))
        passages = passages[1:] if first == 1 else passages
        intro = make.intro(make.form(" | ".join(["ii9", "V13", "Imaj9", "VI7"] * 2)), passages=passages)
        scene = set_scene(plan_intro(intro, tune, tune.key), Stage(LineUp.WITH_KEYS))
        wishes = [PLAIN] * len(scene.units)
        # The highest one comes first, so that a peak is asked for wherever the comp has to bring it.
        found = voice(scene, [PLAIN._replace(lowest_top=77), *wishes[1:]])
        assert (with_a_peak(scene, wishes, found, ()) is None) == is_left


def late_and_kept(scene: Scene, *, highest_at: int) -> tuple[list[int], list[Wish] | None]:
    """The tops of voicings of which one is asked to be the highest, and the wishes after it."""
    wishes = [PLAIN] * len(scene.units)
    asked = [PLAIN._replace(ceiling=70)] * len(scene.units)
    asked[highest_at] = PLAIN._replace(lowest_top=76)
    found = voice(scene, asked)
    return [voicing.top for voicing in found], without_a_late_top(scene, wishes, found, ())


def test_what_comes_after_the_peaks_place_goes_no_higher_than_what_came_before(make: Any) -> None:
    """There the head is near, and a new highest note only sticks out (common practice, no source)."""
    scene = scene_of(make, LineUp.WITH_KEYS, "C", "Imaj9 | vi9 | ii9 | V13 | iii7 | VI7 | ii7 | V7")
    late = [unit for unit, one in enumerate(scene.units) if one.start > LATEST * scene.plan.head_tick]
    assert late
    tops, kept = late_and_kept(scene, highest_at=late[-1])
    before = max(top for unit, top in enumerate(tops) if unit not in late)
    assert tops[late[-1]] > before
    assert kept is not None
    assert [wish.ceiling for wish in kept] == [
        before if unit in late else PLAIN.ceiling for unit in range(len(scene.units))
    ]
    assert max(voicing.top for voicing in voice(scene, kept)[late[0] :]) <= before


def test_a_top_before_that_place_and_a_short_intro_are_left_alone(make: Any) -> None:
    scene = scene_of(make, LineUp.WITH_KEYS, "C", "Imaj9 | vi9 | ii9 | V13 | iii7 | VI7 | ii7 | V7")
    assert late_and_kept(scene, highest_at=1)[1] is None
    short = scene_of(make, LineUp.WITH_KEYS, "C", "ii9 V13")
    assert late_and_kept(short, highest_at=1)[1] is None
