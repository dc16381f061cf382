"""Block and rolled, by what they are: the whole grip at once, and a roll only where there is time for one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from introit.arrange.score import MELODY, ScoreNote, Touch
from introit.theory.key import Mode, keys
from introit.theory.plucking import Plucking

KEYS = tuple(str(key) for key in keys(Mode.MAJOR))
HARMONY = "Imaj7 vi7 | ii7 V7 | Imaj7 | V7"
BEAT = 960


@pytest.mark.parametrize("texture", ["block", "rolled"])
@pytest.mark.parametrize("line_up", ["with bass", "with keys", "solo guitar", "trio"])
@pytest.mark.parametrize("meter", ["3/4", "4/4", "5/4"])
def test_each_stroke_sounds_the_whole_grip(
    lay_out: Callable[..., Any], texture: str, line_up: str, meter: str
) -> None:
    for key in KEYS[:: 1 if meter == "4/4" else 4]:
        laid = lay_out(texture, HARMONY, key=key, line_up=line_up, meter=meter)
        onsets = laid.by_onset()
        assert set(onsets) == {stroke.onset for stroke in laid.work.strokes}
        for stroke in laid.work.strokes:
            assert tuple(note.pitch for note in onsets[stroke.onset]) == laid.heard(stroke.unit)
            assert len({(note.end, note.touch) for note in onsets[stroke.onset]}) == 1


def test_fingers_pluck_what_they_can_and_a_pick_strikes(lay_out: Callable[..., Any]) -> None:
    """Thumb and three fingers pluck four strings (common practice, no source)."""
    touches = set()
    for key in KEYS:
        for line_up in ("with bass", "solo guitar"):
            laid = lay_out("block", HARMONY, key=key, line_up=line_up)
            for note in laid.notes:
                strings = len(laid.voicing_at(note.onset).pitches)
                assert note.touch is (Touch.PLUCKED if strings <= 4 else Touch.STRUCK)
                touches.add(note.touch)
    assert Touch.PLUCKED in touches
    for line_up, plucking in (("with bass", Plucking.PICK), ("with keys", Plucking.FINGERS)):
        struck = lay_out("block", HARMONY, line_up=line_up, plucking=plucking)
        assert {note.touch for note in struck.notes} == {Touch.STRUCK}


@pytest.mark.parametrize(
    ("tempo", "every", "rolls"), [(60.0, "2", True), (60.0, "1/2", False), (200.0, "2", False)]
)
def test_a_roll_only_where_there_is_time(
    lay_out: Callable[..., Any], tempo: float, every: str, rolls: bool
) -> None:
    """A ballad's roll takes 30 to 70 ms a string and ends on the beat (common practice, no source): it needs
    room before the beat, and a grip that sounds on after it."""
    laid = lay_out("rolled", HARMONY, tempo=tempo, every=every)
    touches = {note.touch for note in laid.notes if note.onset < laid.scene.plan.head_tick - BEAT}
    if not rolls:
        assert laid.notes == lay_out("block", HARMONY, tempo=tempo, every=every).notes
    assert touches == ({Touch.ROLLED} if rolls else {Touch.PLUCKED})


def test_a_rolled_grip_is_held_to_the_next_stroke_or_to_its_chords_end(lay_out: Callable[..., Any]) -> None:
    laid = lay_out("rolled", HARMONY, tempo=66.0, every="3", length="1")
    onsets = sorted(laid.by_onset())
    for note in laid.notes:
        following = [onset for onset in onsets if onset > note.onset]
        assert note.end == min([laid.chord_end(note.onset), *following])


def test_the_pickup_is_clear_of_held_grips(lay_out: Callable[..., Any]) -> None:
    laid = lay_out("rolled", HARMONY, tempo=66.0, every="4", length="1", pickup="1")
    assert max(note.end for note in laid.notes) == laid.scene.plan.head_tick - BEAT


def test_a_stab_is_struck_and_short_where_a_longer_stroke_is_rolled(lay_out: Callable[..., Any]) -> None:
    """Three quarters of a beat at most: common practice, no source."""
    for length, rolls in (("1/2", False), ("3/4", False), ("1", True)):
        laid = lay_out("rolled", HARMONY, tempo=60.0, every="2", length=length)
        notes = [note for note in laid.notes if note.onset < laid.scene.plan.head_tick - BEAT]
        assert {note.touch is Touch.ROLLED for note in notes} == {rolls}
        assert {note.length > BEAT for note in notes} == {rolls}


@pytest.mark.parametrize(
    ("over_top", "lets_go"),
    [(2, True), (0, True), (-5, True), (3, False), (7, False), (13, True)],
    ids=["a second", "the same note", "under it", "a third", "a fifth", "a minor ninth"],
)
def test_a_roll_lets_go_for_a_melody_that_comes_into_its_place(
    lay_out: Callable[..., Any], over_top: int, lets_go: bool
) -> None:
    """The comp stays a third under the melody, and no minor ninth lies between them ([TP1])."""
    plain = lay_out("rolled", "ii9 | V13", tempo=66.0, every="4", length="1")
    sung = (ScoreNote(2 * BEAT, BEAT, 0, MELODY, plain.voicing_at(0).top + over_top),)
    found = lay_out("rolled", "ii9 | V13", tempo=66.0, every="4", length="1", melody=sung)
    assert {note.end for note in plain.by_onset()[0]} == {4 * BEAT}
    rubs = any(sung[0].pitch - note.pitch in (1, 13, 25, 37) for note in plain.by_onset()[0])
    assert {note.end for note in found.by_onset()[0]} == {(2 if lets_go or rubs else 4) * BEAT}
    assert {note.end for note in found.by_onset()[4 * BEAT]} == {8 * BEAT}


def test_a_melody_that_sounds_while_it_is_struck_cuts_no_roll(lay_out: Callable[..., Any]) -> None:
    sung = (ScoreNote(BEAT // 2, BEAT, 0, MELODY, 60), ScoreNote(3 * BEAT, BEAT, 0, MELODY, 60))
    found = lay_out("rolled", "ii9 | V13", tempo=66.0, every="4", length="1", melody=sung)
    assert {note.end for note in found.by_onset()[0]} == {3 * BEAT}
