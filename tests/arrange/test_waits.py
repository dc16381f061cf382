"""Where time waits, on notes written by hand; whole intros that wait are in `test_fermata.py`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import BASS, COMP, MELODY
from introit.arrange.waits import waits
from introit.library.leading import BarBeat, Leading
from introit.performance import PlayedNote
from introit.units import TICKS_PER_QUARTER as BEAT

BAR = 4 * BEAT
GRIP = (53, 57, 59, 64)

Make = Callable[[Leading], Scene]


@pytest.fixture
def held(make: Any) -> Make:
    """ii7 | V7 for keys, two seconds a bar."""

    def scene(leading: Leading) -> Scene:
        tune = make.tune(tempo=120.0, leading=leading)
        return set_scene(
            plan_intro(make.intro(make.form("ii7 | V7")), tune, tune.key), Stage(LineUp.WITH_KEYS)
        )

    return scene


def note(onset: int, length: int, part: int, pitch: int, *, chord: int = BAR) -> PlayedNote:
    return PlayedNote(onset, onset + length, chord, part, pitch, 80)


def onsets(notes: list[PlayedNote], part: int) -> list[int]:
    return [one.onset for one in notes if one.part == part]


def test_time_waits_behind_the_last_onset_and_what_sounds_then_rings(held: Make) -> None:
    bass, *grip = [note(BAR, BEAT, BASS, 31), *(note(BAR, BEAT, COMP, pitch) for pitch in GRIP)]
    sung = [note(BAR, BEAT, MELODY, 71), note(BAR + BEAT, BEAT, MELODY, 74)]
    played, (wait,) = waits(held(Leading(hold=True)), [bass, *grip, *sung])
    assert wait == (BAR + BEAT + 1, 2 * BAR, True)
    assert {(one.pitch, one.end) for one in played} == {(71, BAR + BEAT), (74, 2 * BAR)} | {
        (one.pitch, BAR + BEAT) for one in (bass, *grip)
    }


def test_a_roll_before_the_beat_begins_on_it_and_the_melody_comes_later_by_as_much(held: Make) -> None:
    grip = [note(BAR - 90 + 30 * at, BEAT, COMP, pitch) for at, pitch in enumerate(GRIP)]
    played, _ = waits(held(Leading(hold=True)), [*grip, note(BAR + BEAT, BEAT, MELODY, 74)])
    assert onsets(played, COMP) == [BAR, BAR + 30, BAR + 60, BAR + 90]
    assert onsets(played, MELODY) == [BAR + BEAT + 90]


def test_the_melody_follows_a_slow_roll_where_there_is_time_and_sings_over_it_where_there_is_none(
    held: Make,
) -> None:
    scene = held(Leading(hold=True, rolled=True))
    grip = [note(BAR, BEAT, COMP, pitch) for pitch in GRIP]
    soon = [note(BAR + 240, 240, MELODY, 74), note(BAR + 480, 240, MELODY, 71)]
    played, _ = waits(scene, [*grip, *soon])
    assert onsets(played, MELODY)[0] > max(onsets(played, COMP))
    late = note(2 * BAR - 240, 240, MELODY, 71)
    played, _ = waits(scene, [*grip, soon[0], late])
    assert onsets(played, MELODY) == [soon[0].onset, late.onset]


def test_of_a_melody_that_leads_over_a_wait_the_last_note_begins_when_time_goes_on(held: Make) -> None:
    """There is no time in which the others could lead to it."""
    grip = [note(0, BEAT, COMP, pitch, chord=0) for pitch in GRIP]
    over = [note(BAR - at, 240, MELODY, pitch) for at, pitch in ((480, 69), (240, 71))]
    played, (wait,) = waits(held(Leading(hold=True, held=BarBeat(1))), [*grip, *over])
    assert wait.to == BAR
    assert [(one.onset, one.end, one.pitch) for one in played if one.part == MELODY] == [(BAR, BAR + 240, 71)]
