"""Ornaments, sparingly: one grace note a phrase, one slide in two bars. Common practice, no source."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.ornaments import ornamented
from introit.arrange.plan import plan_intro, suits
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import BASS, COMP, MELODY, ScoreNote, Touch
from introit.library.model import Feel, Library, Tune
from introit.theory.key import Key
from introit.theory.numeral import Numeral

SEEDS = 6
RUBS = {0, 1, 13, 25, 37}
"""The same note twice, a half step, and a minor ninth with its octaves ([TP1])."""

Arranged = tuple[Scene, Feel, list[ScoreNote], list[ScoreNote]]
"""A scene, its feel, the notes without ornaments, and with them."""


def ornaments_of(notes: list[ScoreNote], part: int) -> list[ScoreNote]:
    return [note for note in notes if note.touch is Touch.ORNAMENT and note.part == part]


@pytest.fixture(scope="module")
def arranged(shipped: Library) -> list[Arranged]:
    """Every intro with its first feel, on guitar with a bass player and alone, each by a few seeds."""
    found: list[Arranged] = []
    for number, intro in enumerate(shipped.intros.values()):
        feel = shipped.feels[intro.feels[number % len(intro.feels)]]
        meter = next(one for one in intro.meters if one in feel.meters)
        for key, first in (("Bb", "Imaj7"), ("D minor", "i6/9")):
            called = Key.from_text(key)
            tune = Tune("t", "T", called, meter, feel.typical_tempo, feel.id, Numeral.from_text(first))
            if suits(intro, tune, called) is None:
                line_up = (LineUp.WITH_BASS, LineUp.WITH_BASS, LineUp.SOLO_GUITAR)[number % 3]
                score = arrange(plan_intro(intro, tune, called), shipped, stage=Stage(line_up), seed=number)
                plain = [note for note in score.notes if note.touch is not Touch.ORNAMENT]
                for seed in range(SEEDS):
                    scene = replace(score.scene, seed=seed)
                    found.append((scene, feel, plain, ornamented(scene, feel, plain)))
                break
    return found


def led_to(notes: list[ScoreNote], ornament: ScoreNote) -> list[ScoreNote]:
    """The notes of its part that begin where an ornament ends."""
    return [
        note
        for note in notes
        if (note.onset, note.part) == (ornament.end, ornament.part) and note.touch is not Touch.ORNAMENT
    ]


def each(arranged: list[Arranged], part: int | None = None) -> Iterator[tuple[Arranged, ScoreNote]]:
    """Every ornament there is, with where it was found."""
    for one in arranged:
        for note in one[3]:
            if note.touch is Touch.ORNAMENT and part in {None, note.part}:
                yield one, note


def test_there_are_ornaments_but_few(arranged: list[Arranged]) -> None:
    bars = sum(scene.plan.bars for scene, *_ in arranged)
    graces = len(list(each(arranged, MELODY)))
    slides = len({(id(one), note.onset) for one, note in each(arranged, COMP)})
    assert 0 < graces <= bars / 4
    assert 0 < slides <= bars / 8


def test_a_phrase_has_one_grace_note_at_most(arranged: list[Arranged]) -> None:
    """Phrases are parted by a rest of a beat."""
    for _, _, plain, notes in arranged:
        melody = sorted(note for note in plain if note.part == MELODY)
        starts = [after.onset for before, after in pairwise(melody) if after.onset - before.end >= 960]
        graced = [sum(start <= note.end for start in starts) for note in ornaments_of(notes, MELODY)]
        assert len(set(graced)) == len(graced)


def test_two_bars_have_one_slide_at_most(arranged: list[Arranged]) -> None:
    for scene, _, _, notes in arranged:
        onsets = sorted({note.end for note in ornaments_of(notes, COMP)})
        assert all(after - before >= 2 * scene.plan.bar_ticks for before, after in pairwise(onsets))


def test_every_ornament_leads_to_its_note_and_is_short(arranged: list[Arranged]) -> None:
    for (scene, _, _, notes), note in each(arranged):
        assert note.onset >= 0
        assert 0 < note.length <= 240
        assert note.length / 960 * 60_000 / scene.plan.tempo <= 72
        assert not note.accent
        mains = led_to(notes, note)
        assert mains
        assert all(main.touch is not Touch.ROLLED for main in mains)
        assert all(main.harmony_tick == note.harmony_tick for main in mains)


def test_a_grace_note_is_a_half_step_below_or_a_step_above_a_long_note(arranged: list[Arranged]) -> None:
    for (scene, _, _, notes), note in each(arranged, MELODY):
        (main,) = led_to(notes, note)
        assert main.length >= 960
        assert note.pitch - main.pitch in {-1, 1, 2}
        if note.pitch > main.pitch:
            chord = scene.plan.chords[scene.plan.at(main.harmony_tick)].chord
            assert note.pitch % 12 in {tone.pitch_class for tone in chord.scale}
            assert note.pitch <= max(one.pitch for one in notes if one.part == MELODY and one is not note)


def test_a_slide_is_the_whole_grip_a_fret_lower_after_a_rest(arranged: list[Arranged]) -> None:
    for (scene, feel, plain, notes), note in each(arranged, COMP):
        assert scene.seats.comp_on == "guitar"
        assert "slide" in feel.ornaments
        slid = [one for one in ornaments_of(notes, COMP) if one.onset == note.onset]
        grip = led_to(notes, note)
        assert sorted((one.pitch + 1, one.string, (one.fret or 0) + 1) for one in slid) == sorted(
            (one.pitch, one.string, one.fret) for one in grip
        )
        assert all((one.fret or 0) >= 1 for one in slid)
        assert not any(
            one.part == COMP and one.onset < note.end and one.end > note.end - 480 for one in plain
        )


def test_the_last_bar_has_none(arranged: list[Arranged]) -> None:
    for (scene, *_), note in each(arranged):
        assert note.end < scene.plan.head_tick - scene.plan.bar_ticks


def test_nothing_sounds_twice_and_nothing_rubs(arranged: list[Arranged]) -> None:
    for (_, _, _, notes), note in each(arranged):
        for other in notes:
            meanwhile = other.onset < note.end and note.onset < other.end
            if meanwhile and other is not note and other.touch is not Touch.ORNAMENT:
                assert abs(other.pitch - note.pitch) not in RUBS


def test_ornaments_change_nothing_but_the_end_of_the_note_before(arranged: list[Arranged]) -> None:
    for _, _, plain, notes in arranged:
        kept = [note for note in notes if note.touch is not Touch.ORNAMENT]
        begins = {note.onset for note in ornaments_of(notes, MELODY)}
        for before, after in zip(plain, kept, strict=True):
            assert after == before or (before.part == MELODY and after.end in begins)
            assert after._replace(length=before.length) == before
            assert after.length >= min(480, before.length)


def test_a_seed_brings_its_ornaments_back(arranged: list[Arranged]) -> None:
    for scene, feel, plain, notes in arranged[:: SEEDS + 1]:
        assert ornamented(scene, feel, plain) == notes
    assert any(
        ornaments_of(one[3], MELODY) != ornaments_of(other[3], MELODY)
        for one, other in pairwise(arranged)
        if one[2] is other[2]
    )


# Small scenes, each with one thing that forbids an ornament; without it there is one.

Small = Callable[..., list[ScoreNote]]


@pytest.fixture(scope="module")
def small(make: Any) -> Small:
    """All ornaments that forty seeds make of some notes on six bars of C major."""
    tune = make.tune(tempo=120.0)
    plan = plan_intro(make.intro(make.form(" | ".join(["Imaj7"] * 6))), tune, tune.key)

    def found(*notes: ScoreNote, line_up: LineUp = LineUp.WITH_BASS, **fields: Any) -> list[ScoreNote]:
        feel = replace(make.feel, ornaments=fields.get("ornaments", ("grace", "slide")))
        made = []
        for seed in range(40):
            scene = set_scene(plan, Stage(line_up), seed=seed)
            made += [n for n in ornamented(scene, feel, list(notes)) if n.touch is Touch.ORNAMENT]
        return made

    return found


LONG = ScoreNote(3840, 1920, 0, MELODY, 79)
GRIP = tuple(
    ScoreNote(3840, 960, 0, COMP, pitch, string=string, fret=fret, finger=finger)
    for pitch, string, fret, finger in ((55, 4, 5, 2), (59, 3, 4, 1), (64, 2, 5, 3))
)


def test_a_long_note_may_be_graced_from_both_sides(small: Small) -> None:
    below = ScoreNote(960, 480, 0, MELODY, 84)  # something higher, so that the note above is not the highest
    assert {note.pitch for note in small(LONG, below)} == {78, 81}
    assert {note.pitch for note in small(LONG)} == {78}


@pytest.mark.parametrize(
    "notes",
    [
        (LONG._replace(length=900),),
        (LONG._replace(touch=Touch.ROLLED),),
        (LONG._replace(onset=0),),
        (LONG._replace(onset=5 * 3840),),
        (ScoreNote(3360, 480, 0, MELODY, 76), LONG),
        (ScoreNote(0, 3840, 0, MELODY, 78), LONG),
        (ScoreNote(0, 7680, 0, BASS, 77), LONG),
        (ScoreNote(0, 7680, 0, BASS, 65), LONG),
    ],
    ids=["short", "rolled", "first", "last bar", "eighth before", "same note", "half step", "minor ninth"],
)
def test_a_note_that_is_not_graced(notes: tuple[ScoreNote, ...], small: Small) -> None:
    assert small(*notes) == []


def test_a_grip_may_be_slid_into(small: Small) -> None:
    slid = small(*GRIP)
    assert {(note.pitch, note.string, note.fret, note.finger) for note in slid} == {
        (54, 4, 4, 2),
        (58, 3, 3, 1),
        (63, 2, 4, 3),
    }


def changed(**fields: Any) -> tuple[ScoreNote, ...]:
    return tuple(note._replace(**fields) for note in GRIP)


@pytest.mark.parametrize(
    "notes",
    [
        changed(touch=Touch.ROLLED),
        changed(touch=Touch.PLUCKED),
        changed(onset=0),
        changed(onset=5 * 3840),
        changed(length=240),
        GRIP[:2],
        (GRIP[0]._replace(fret=1), *GRIP[1:]),
        (GRIP[0]._replace(fret=None), *GRIP[1:]),
        (*GRIP, GRIP[0]._replace(pitch=56)),
        (ScoreNote(1920, 1600, 0, COMP, 60), *GRIP),
        (ScoreNote(1920, 3840, 0, BASS, 41), *GRIP),
        tuple(note._replace(pitch=note.pitch - 7) for note in GRIP),
    ],
    ids=[
        "rolled",
        "plucked",
        "first",
        "last bar",
        "dab",
        "two strings",
        "first fret",
        "not placed",
        "half step within",
        "no rest before",
        "minor ninth with the bass",
        "below its register",
    ],
)
def test_a_grip_that_is_not_slid_into(notes: tuple[ScoreNote, ...], small: Small) -> None:
    assert small(*notes) == []


def test_keys_do_not_slide_and_a_feel_without_ornaments_has_none(small: Small) -> None:
    assert small(*GRIP, line_up=LineUp.WITH_KEYS) == []
    assert small(*GRIP, LONG, ornaments=()) == []
    assert small(*GRIP, ornaments=("grace",)) == []


def test_one_pair_of_hands_slides_with_all_it_holds_and_graces_with_nothing_held(small: Small) -> None:
    held = ScoreNote(2880, 3840, 0, BASS, 43, string=6, fret=3)
    assert small(held, *GRIP, line_up=LineUp.SOLO_GUITAR) == []
    assert small(held, LONG, line_up=LineUp.SOLO_GUITAR) == []
    with_bass = (ScoreNote(3840, 960, 0, BASS, 45, string=6, fret=5, finger=1), *GRIP)
    assert {note.part for note in small(*with_bass, line_up=LineUp.SOLO_GUITAR)} == {BASS, COMP}
    assert small(LONG, line_up=LineUp.SOLO_GUITAR)
