"""The thumb's own notes: what it strikes again, and what it lets go."""

from __future__ import annotations

from typing import Any

import pytest

from introit.arrange.line_up import LineUp, Stage
from introit.arrange.one_guitar import thumb_notes
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import BASS, COMP, ScoreNote
from introit.arrange.voicing import Voicing, Wish, voice

BEAT = 960
ALONE = Wish(ceiling=77, floor=40, bass_in_grip=True)


def laid_out(make: Any, harmony: str, tempo: float = 132.0) -> tuple[Scene, tuple[Voicing, ...]]:
    tune = make.tune("C", tempo=tempo)
    scene = set_scene(plan_intro(make.intro(make.form(harmony)), tune, tune.key), Stage(LineUp.SOLO_GUITAR))
    return scene, voice(scene, [ALONE] * len(scene.units))


def spans(notes: list[ScoreNote]) -> list[tuple[float, float]]:
    assert {note.part for note in notes} == {BASS}
    return [(note.onset / BEAT, note.end / BEAT) for note in notes]


def over(pitch: int, beat: float, harmony: int = 0) -> ScoreNote:
    return ScoreNote(int(beat * BEAT), BEAT, harmony, COMP, pitch)


def test_it_strikes_again_on_the_second_strong_beat_but_not_in_a_ballad(make: Any) -> None:
    scene, voicings = laid_out(make, "ii9 | V13")
    assert spans(thumb_notes(scene, voicings)) == [(0, 2), (2, 4), (4, 6), (6, 8)]
    slow, voicings = laid_out(make, "ii9 | V13", tempo=60.0)
    assert spans(thumb_notes(slow, voicings)) == [(0, 4), (4, 8)]


@pytest.mark.parametrize(("semitones", "again"), [(1, False), (3, True), (7, True)])
def test_no_root_is_struck_again_under_a_half_step(make: Any, semitones: int, again: bool) -> None:
    """Two strings a half step apart beat against each other at the bottom of a guitar: it is let go there."""
    scene, voicings = laid_out(make, "ii9 | V13")
    above = [over(voicings[0].bottom + semitones, 2)]
    found = spans(thumb_notes(scene, voicings, above=above))
    assert found == [(0, 2), *([(2, 4)] if again else []), (4, 6), (6, 8)]
    gone = [over(voicings[0].bottom + semitones, 1)]
    assert spans(thumb_notes(scene, voicings, above=gone)) == [(0, 2), (2, 4), (4, 6), (6, 8)]


def test_it_lets_go_for_a_note_of_the_coming_chord_that_it_would_rub(make: Any) -> None:
    """A minor ninth over the old root, struck early with the new chord ([TP1])."""
    scene, voicings = laid_out(make, "ii9 | V13", tempo=60.0)
    low = voicings[0].bottom
    pushed = over(low + 13, 3.5, harmony=4 * BEAT)
    assert spans(thumb_notes(scene, voicings, above=[pushed])) == [(0, 3.5), (4, 8)]
    for clear in (over(low + 12, 3.5, harmony=4 * BEAT), over(low + 13, 3.5)):
        assert spans(thumb_notes(scene, voicings, above=[clear])) == [(0, 4), (4, 8)]
