"""Strums, rolls and fingers. The milliseconds are common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.feel import played
from introit.arrange.feel.touch import plucked, rolled, strummed
from introit.arrange.line_up import LineUp
from introit.arrange.score import BASS, COMP, MELODY, ScoreNote, Touch
from introit.library.model import Library
from introit.theory.plucking import Plucking
from introit.units import ticks_from_ms

BALLADS = [50.0, 62.0, 75.0, 90.0]
OTHERS = [100.0, 140.0, 180.0, 236.0, 300.0, 400.0]


def ms(ticks: float, tempo: float) -> float:
    return ticks / 960 * 60_000 / tempo


def onsets(score: Any, feel: Any, part: int = COMP) -> list[int]:
    return [note.onset for note in played(score, feel) if note.part == part]


def test_every_shipped_feel_strums_and_rolls_as_hands_do(shipped: Library) -> None:
    for feel in shipped.feels.values():
        assert feel.strum_ms == 0 or 8 <= feel.strum_ms <= 25, feel.id
        assert 30 <= feel.roll_ms <= 70, feel.id


@pytest.mark.parametrize("tempo", [100.0, 140.0, 190.0])
def test_a_strum_takes_8_to_25_ms_a_string(shipped: Library, tempo: float) -> None:
    for name in ("medium-swing", "jazz-waltz", "shuffle"):
        delays = strummed(4, tempo, shipped.feels[name].strum_ms, length=960)
        steps = [ms(after - before, tempo) for before, after in pairwise(delays)]
        assert delays[0] == 0
        assert all(8 - 0.3 <= step <= 25 for step in steps)


@pytest.mark.parametrize("tempo", OTHERS)
@pytest.mark.parametrize("length", [120, 480, 960, 3840])
def test_a_strum_is_over_within_an_eighth_of_a_beat(tempo: float, length: int) -> None:
    for strings in range(1, 7):
        delays = strummed(strings, tempo, 25, length=length)
        assert list(delays) == sorted(delays)
        assert delays[0] == 0
        assert delays[-1] <= min(120, length / 3)


def test_a_struck_grip_is_heard_at_its_first_string(make: Any, scored: Any, grip: Any) -> None:
    score = scored(*grip(960))
    assert onsets(score, make.feel) == [960, 984, 1008, 1032]  # 10 ms at 150 to the minute are 24 ticks


def test_with_a_pick_an_accented_off_beat_is_struck_upwards(make: Any, scored: Any, grip: Any) -> None:
    for onset, accent, plucking, up in (
        (480, True, Plucking.PICK, True),
        (480, False, Plucking.PICK, False),
        (960, True, Plucking.PICK, False),
        (480, True, Plucking.FINGERS, False),
    ):
        found = onsets(scored(*grip(onset, 960, accent=accent), plucking=plucking), make.feel)
        assert found == sorted(found, reverse=up)
        assert len(set(found)) == 4


@pytest.mark.parametrize("tempo", BALLADS)
@pytest.mark.parametrize("strings", [3, 4, 5, 6])
def test_a_ballads_roll_takes_30_to_70_ms_a_string_and_ends_on_the_beat(
    shipped: Library, tempo: float, strings: int
) -> None:
    delays = rolled(strings, tempo, shipped.feels["ballad"].roll_ms, room=480)
    assert delays[-1] == 0
    steps = [ms(after - before, tempo) for before, after in pairwise(delays)]
    assert all(30 <= step <= 70 for step in steps)


@pytest.mark.parametrize("tempo", OTHERS)
def test_a_roll_never_takes_more_than_a_quarter_of_a_beat_or_than_there_is_room(tempo: float) -> None:
    for strings in range(1, 7):
        for room in (1, 20, 100, 960):
            delays = rolled(strings, tempo, 70, room=room)
            assert delays[-1] == 0
            assert -delays[0] <= min(240, room)


def test_a_rolled_grip_ends_on_the_beat_and_the_hand_leaves_the_one_before(
    make: Any, scored: Any, grip: Any
) -> None:
    bass = ScoreNote(0, 3840, 0, BASS, 40)
    score = scored(
        *grip(0, 1920, touch=Touch.ROLLED), *grip(1920, 1920, touch=Touch.ROLLED), bass, tempo=60.0
    )
    sounding = played(score, make.feel)
    step = ticks_from_ms(make.feel.roll_ms, 60)
    first, second = ([note for note in sounding if note.part == COMP][at : at + 4] for at in (0, 4))
    assert [note.onset for note in first] == [0, step, 2 * step, 3 * step]  # there is nothing before tick 0
    assert [note.onset for note in second] == [1920 - 3 * step, 1920 - 2 * step, 1920 - step, 1920]
    assert {note.end for note in first} == {1920 - 3 * step}
    assert [note.end for note in sounding if note.part == BASS] == [3840]


def test_what_rings_through_a_roll_is_left_alone(make: Any, scored: Any, grip: Any) -> None:
    ringing = ScoreNote(0, 3840, 0, COMP, 48)
    score = scored(ringing, *grip(1920, touch=Touch.ROLLED), tempo=60.0)
    assert [note.end for note in played(score, make.feel) if note.pitch == 48] == [3840]


def test_a_roll_begins_after_the_stroke_before_it(make: Any, scored: Any, grip: Any) -> None:
    score = scored(*grip(1800, 120), *grip(1920, touch=Touch.ROLLED), tempo=60.0)
    found = onsets(score, make.feel)
    assert max(found[:1]) < min(found[4:])
    assert found[-1] == 1920


@pytest.mark.parametrize("tempo", [50.0, 120.0, 300.0])
@pytest.mark.parametrize("strings", [1, 2, 3, 4, 6])
def test_fingers_are_within_five_milliseconds(tempo: float, strings: int) -> None:
    delays = plucked(strings, tempo)
    assert delays[0] == 0
    assert list(delays) == sorted(delays)
    assert ms(delays[-1] - 0.5, tempo) <= 5  # rounded to the nearest tick


@pytest.mark.parametrize(
    "fields",
    [
        {"line_up": LineUp.WITH_KEYS},
        {"line_up": LineUp.SOLO_GUITAR, "plucking": Plucking.FINGERS},
        {"touch": Touch.PLUCKED},
        {"strum_ms": 0},
    ],
    ids=["keys", "thumb and fingers", "plucked", "a feel that plucks"],
)
def test_who_plays_together(make: Any, scored: Any, grip: Any, fields: dict[str, Any]) -> None:
    feel = replace(make.feel, strum_ms=fields.pop("strum_ms", make.feel.strum_ms))
    notes = grip(960, touch=fields.pop("touch", Touch.STRUCK))
    found = onsets(scored(*notes, **fields), feel)
    assert found[0] == 960
    assert ms(found[-1] - 960, 150) <= 5


def test_one_pair_of_hands_rolls_from_the_thumb_to_the_melody(make: Any, scored: Any) -> None:
    parts = {BASS: 40, COMP: 55, MELODY: 71}
    notes = [ScoreNote(1920, 1920, 0, part, pitch, touch=Touch.ROLLED) for part, pitch in parts.items()]
    score = scored(*notes, tempo=60.0, line_up=LineUp.SOLO_GUITAR)
    by_pitch = sorted((note.pitch, note.onset) for note in played(score, make.feel))
    step = ticks_from_ms(make.feel.roll_ms, 60)
    assert by_pitch == [(40, 1920 - 2 * step), (55, 1920 - step), (71, 1920)]


def test_an_ornament_ends_where_its_note_begins(make: Any, scored: Any, grip: Any) -> None:
    main = grip(960)
    slide = [
        note._replace(onset=790, length=170, pitch=note.pitch - 1, touch=Touch.ORNAMENT) for note in main
    ]
    sounding = played(scored(*main, *slide), make.feel)
    slid = {note.pitch: note for note in sounding if note.onset < 900}
    for note in sounding:
        if note.pitch - 1 in slid:
            before = slid[note.pitch - 1]
            assert before.end == note.onset
            assert before.end - before.onset == 170
            assert before.velocity < note.velocity
    assert len(slid) == 4


def test_a_grace_note_leans_on_a_late_note_and_ends_the_one_before(make: Any, scored: Any) -> None:
    before = ScoreNote(0, 800, 0, MELODY, 67)
    grace = ScoreNote(800, 160, 0, MELODY, 71, touch=Touch.ORNAMENT)
    main = ScoreNote(960, 960, 0, MELODY, 72)
    first, second, third = played(scored(before, grace, main), make.feel)
    assert third.onset == 960 + 72  # late by 30 ms
    assert second.end == third.onset
    assert second.onset == third.onset - 160
    assert first.end == second.onset
