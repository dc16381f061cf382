"""A whole score as it is played: what crosses the head, what is in order, and one bar worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.arranger import arrange
from introit.arrange.feel import played
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro, suits
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, RIDE, Score, ScoreNote, Touch
from introit.library.model import Library, Tune
from introit.performance import PlayedNote
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

HEAD = 8 * 3840

ANY_NOTES = st.lists(
    st.builds(
        ScoreNote,
        onset=st.integers(0, HEAD - 1),
        length=st.integers(1, 8000),
        harmony_tick=st.just(0),
        part=st.sampled_from([MELODY, COMP, BASS, PEDAL, RIDE]),
        pitch=st.integers(30, 90),
        accent=st.booleans(),
        touch=st.sampled_from(Touch),
    ),
    max_size=20,
)


def test_a_bar_is_played_as_worked_out_by_hand(make: Any, scored: Any) -> None:
    """At 150, where the feel's comp swings 1.75 : 1, its line 1.375 : 1 and lies 30 ms back.

    An off-beat of the comp lies at 1.75 / 2.75 of the beat (611 ticks), of the line at 1.375 / 2.375 (556)
    and 72 ticks, 30 ms, later (628: with the comp's); strings are 10 ms, 24 ticks, apart.
    """
    comp = [ScoreNote(480, 480, 0, COMP, 60), ScoreNote(480, 480, 0, COMP, 64)]
    line = [ScoreNote(0, 480, 0, MELODY, 76), ScoreNote(480, 480, 0, MELODY, 77)]
    notes = played(scored(*line, *comp), make.feel)
    assert [(note.onset, note.end, note.pitch) for note in notes] == [
        (72, 628, 76),
        (628, 960, 77),
        (611, 960, 60),
        (635, 960, 64),
    ]


def test_written_triplets_are_not_swung(make: Any, scored: Any) -> None:
    triplet = [ScoreNote(tick, 320, 0, COMP, 60 + tick // 320) for tick in (960, 1280, 1600)]
    eighths = [ScoreNote(tick, 480, 0, COMP, 60) for tick in (1920, 2400)]
    found = [note.onset for note in played(scored(*triplet, *eighths), make.feel)]
    assert found == [960, 1280, 1600, 1920, 1920 + 611]


@given(notes=ANY_NOTES, seed=st.integers(0, 50))
def test_nothing_crosses_the_head_that_is_cut(
    make: Any, scored: Any, notes: list[ScoreNote], seed: int
) -> None:
    feel = replace(make.feel, drift_ms=8, late_line_ms=60)
    for note in played(scored(*notes, seed=seed), feel):
        assert 0 <= note.onset < note.end <= HEAD


@given(notes=ANY_NOTES, seed=st.integers(0, 50))
def test_where_the_landing_rings_only_what_is_written_over_the_head_crosses_it(
    make: Any, scored: Any, notes: list[ScoreNote], seed: int
) -> None:
    feel = replace(make.feel, drift_ms=8, late_line_ms=60)
    score = scored(*notes, seed=seed, landing="ring", ring=Fraction(8))
    latest = max((note.end for note in notes if note.end > HEAD), default=HEAD)
    assert all(note.end <= latest for note in played(score, feel))


@pytest.mark.parametrize("touch", [Touch.STRUCK, Touch.ROLLED])
def test_a_chord_on_the_head_sounds_on_it_and_as_long_as_it_is_written(
    make: Any, scored: Any, grip: Any, touch: Touch
) -> None:
    feel = replace(make.feel, drift_ms=8)
    chord = grip(HEAD, 480, touch=touch)
    before = ScoreNote(HEAD - 960, 960, 0, BASS, 40)
    for seed in range(10):
        bass, *landed = played(scored(before, *chord, landing="chord", seed=seed), feel)
        assert bass.end == HEAD
        assert landed[0].onset == HEAD
        assert {note.end for note in landed} == {HEAD + 480}
    assert [note.part for note in played(scored(before, *chord), feel)] == [BASS]  # cut


def test_what_rings_over_the_head_keeps_its_length(make: Any, scored: Any) -> None:
    score = scored(ScoreNote(HEAD - 480, 480 + 1920, 0, COMP, 60), landing="ring", ring=Fraction(2))
    (note,) = played(score, make.feel)
    assert note.end == HEAD + 1920


INTROS = ["three-six-two-five", "amen-steps", "waltz-riff", "blues-last-four", "dorian-vamp"]


@pytest.fixture(scope="module")
def performances(shipped: Library) -> list[tuple[Score, list[PlayedNote]]]:
    """A few intros of the library with each of their feels and every line-up, played."""
    found = []
    for name in INTROS:
        intro = shipped.intros[name]
        for feel in (shipped.feels[one] for one in intro.feels):
            meter = next((one for one in feel.meters if one in intro.meters), Meter(4))
            for key, first in (("Eb", "Imaj7"), ("C minor", "i6/9")):
                called = Key.from_text(key)
                tune = Tune("t", "T", called, meter, feel.typical_tempo, feel.id, Numeral.from_text(first))
                if suits(intro, tune, called) is None:
                    for line_up in LineUp:
                        plan = plan_intro(intro, tune, called)
                        score = arrange(plan, shipped, stage=Stage(line_up), seed=len(found))
                        found.append((score, played(score, feel)))
    assert len(found) > 20
    return found


def test_order_is_kept_in_every_part(performances: list[tuple[Score, list[PlayedNote]]]) -> None:
    """A note that is written later never begins before one that its player has begun earlier.

    Except for rolls and ornaments, which begin before their beat; these come after the stroke before them.
    """
    for score, sounding in performances:
        for part in (MELODY, COMP, BASS, PEDAL, RIDE):
            pairs = [
                (note.onset, played_note.onset)
                for note, played_note in zip(score.notes, sounding, strict=True)
                if note.part == part and note.touch in {Touch.STRUCK, Touch.PLUCKED}
            ]
            first_of = {}
            for written, at in pairs:
                first_of[written] = min(at, first_of.get(written, at))
            assert list(first_of.values()) == sorted(first_of.values())


def test_every_note_lies_near_its_place(performances: list[tuple[Score, list[PlayedNote]]]) -> None:
    """Swing, lateness, drift and a strum together move nothing by as much as half a beat."""
    for score, sounding in performances:
        assert [note.pitch for note in sounding] == [note.pitch for note in score.notes]
        for note, played_note in zip(score.notes, sounding, strict=True):
            assert abs(played_note.onset - note.onset) < 480
            assert played_note.end - played_note.onset >= 30
            assert played_note.end <= score.plan.head_tick


def test_a_seed_brings_a_playing_back(shipped: Library) -> None:
    feel = shipped.feels["medium-swing"]
    key = Key.from_text("Ab")
    tune = Tune("t", "T", key, Meter(4), 140.0, feel.id, Numeral.from_text("Imaj7"))
    plan = plan_intro(shipped.intros["three-six-two-five"], tune, key)
    first, again, other = (arrange(plan, shipped, seed=seed) for seed in (4, 4, 5))
    assert played(first, feel) == played(again, feel)
    moved = Score(replace(first.scene, seed=5), first.notes)
    assert played(moved, feel) != played(first, feel)
    assert other.scene.seed == 5


def test_all_strings_of_a_grip_end_after_they_begin(
    performances: list[tuple[Score, list[PlayedNote]]],
) -> None:
    for _, sounding in performances:
        for before, after in pairwise(sounding):
            assert before.onset < before.end
            assert 1 <= after.velocity <= 127
