"""Mistakes for the ear: what is wrong enough, and when it counts as heard."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.score import COMP
from introit.practice.listening import heard, places_of, with_wrong_chord, wrong_chords
from introit.practice.passes import Planted
from introit.practice.subject import Subject
from introit.theory.chord import chord_of
from introit.theory.numeral import Numeral

Make = Callable[..., Subject]
BAR = 3840
PLANTED = Planted(2, 2 * BAR, 3 * BAR)


@pytest.mark.parametrize(
    ("marks", "found", "beats", "alarms"),
    [
        ((), False, None, 0),
        ((2 * BAR,), True, 0.0, 0),
        ((2 * BAR + 960,), True, 1.0, 0),
        ((4 * BAR - 1,), True, 7.999, 0),  # a bar after the chord's end
        ((4 * BAR,), False, None, 1),
        ((2 * BAR - 1,), False, None, 1),
        ((100, 2 * BAR + 480, 2 * BAR + 960, 5 * BAR), True, 0.5, 2),
    ],
)
def test_a_press_is_in_time_from_the_chord_until_a_bar_after_it(
    marks: tuple[int, ...], found: bool, beats: float | None, alarms: int
) -> None:
    told = heard(PLANTED, marks, BAR)
    assert told.heard is found
    assert told.false_alarms == alarms
    assert told.beats == pytest.approx(beats, abs=0.001)


@given(st.lists(st.integers(0, 8 * BAR)))
def test_every_press_is_in_time_or_a_false_alarm(marks: list[int]) -> None:
    told = heard(PLANTED, tuple(marks), BAR)
    inside = [mark for mark in marks if 2 * BAR <= mark < 4 * BAR]
    assert told.false_alarms == len(marks) - len(inside)
    assert told.heard == bool(inside)


def test_a_wrong_chord_has_two_tones_that_the_right_one_could_not_bear(subject: Make) -> None:
    for name in subject().library.intros:
        made = subject(name)
        plan = made.plan(made.tune.key, 120.0)
        for index, right in enumerate(plan.chords):
            bears = {tone.pitch_class for tone in (*right.chord.required, *right.chord.optional)}
            for numeral in wrong_chords(plan, index):
                wrong = chord_of(numeral, plan.key)
                assert len({tone.pitch_class for tone in wrong.required} - bears) >= 2
                assert wrong.root.pitch_class != right.chord.root.pitch_class


def test_no_wrong_chord_is_the_tritone_substitute_of_a_dominant(subject: Make) -> None:
    made = subject("flat-seven-six-two-five")
    plan = made.plan(made.tune.key, 120.0)
    fives = [index for index, chord in enumerate(plan.chords) if chord.chord.is_dominant]
    assert fives
    for index in fives:
        root = plan.chords[index].chord.root.pitch_class
        for numeral in wrong_chords(plan, index):
            wrong = chord_of(numeral, plan.key)
            assert not (wrong.is_dominant and (wrong.root.pitch_class - root) % 12 == 6)


def test_nearly_every_chord_can_be_swapped(subject: Make) -> None:
    missing = every = 0
    for name in subject().library.intros:
        made = subject(name)
        plan = made.plan(made.tune.key, 120.0)
        every += len(plan.chords)
        missing += sum(not wrong_chords(plan, index) for index in range(len(plan.chords)))
    assert every > 200
    assert missing / every < 0.03


def test_the_swapped_comp_is_the_wrong_chord(subject: Make) -> None:
    made = subject("blues-bass-climbs")
    score = made.score(made.tune.key, 120.0, 1)
    span = (0, score.plan.head_tick)
    tried = 0
    for index in places_of(score, span):
        chord = score.plan.chords[index]
        for numeral in wrong_chords(score.plan, index)[:2]:
            wrong = with_wrong_chord(made, score, index, numeral)
            pitches = {
                note.pitch % 12
                for note in wrong.notes
                if note.part == COMP and chord.onset <= note.harmony_tick < chord.end
            }
            if len(pitches) < 3:
                continue
            tried += 1
            asked = chord_of(numeral, score.plan.key)
            tones = {tone.pitch_class for tone in (*asked.required, *asked.optional)}
            assert {tone.pitch_class for tone in asked.guide_tones} <= pitches | {asked.root.pitch_class}
            assert len(pitches - tones) <= 1  # an ornament may slide in
    assert tried > 5


def test_the_first_chord_and_what_is_not_struck_are_no_places(subject: Make) -> None:
    made = subject("back-door")
    score = made.score(made.tune.key, 120.0, 1)
    places = places_of(score, (0, score.plan.head_tick))
    assert 0 not in places
    assert places_of(score, (BAR, 2 * BAR)) == [
        index for index in places if BAR < score.plan.chords[index].onset < 2 * BAR
    ]
    for index in places:
        chord = score.plan.chords[index]
        own = [n for n in score.notes if n.part == COMP and chord.onset <= n.harmony_tick < chord.end]
        assert len(own) > 1


def test_a_mistake_names_a_numeral() -> None:
    assert Planted(1, 0, 10, Numeral.from_text("bVImaj7")).instead is not None
