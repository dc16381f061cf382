"""The same voicing on one string set after the other."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest

from introit.arrange.line_up import STANDARD_NECK, LineUp, Stage
from introit.arrange.score import COMP
from introit.errors import UsageError
from introit.practice.string_sets import gripped, set_name, string_sets, strings_score, voices_of
from introit.practice.subject import Subject
from introit.theory.chord import chord_from_symbol
from introit.theory.fingering import Unplayable
from introit.theory.fretboard import Fretboard
from introit.theory.holding import FrettingHand
from introit.theory.key import keys

Make = Callable[..., Subject]
SETS = (1, 2, 3)


def test_sets_are_four_neighbouring_strings_from_the_lowest() -> None:
    assert [set_name(step, STANDARD_NECK) for step in SETS] == ["6-5-4-3", "5-4-3-2", "4-3-2-1"]
    seven = Fretboard((35, *STANDARD_NECK.tuning))
    assert string_sets(seven) == 4
    assert set_name(1, seven) == "7-6-5-4"


@pytest.mark.parametrize("name", ["back-door", "blues-bass-climbs", "minor-blues-riff", "half-steps-up"])
def test_a_chord_keeps_its_voicing_from_set_to_set_in_every_key(subject: Make, name: str) -> None:
    made, hand = subject(name), FrettingHand(STANDARD_NECK)
    for mode in made.modes:
        for key in keys(mode):
            plan = made.plan(key, 120.0)
            steps = [gripped(plan, STANDARD_NECK, step) for step in SETS]
            for step, held in zip(SETS, steps, strict=True):
                assert [one.chord for one in held] == list(plan.chords)
                for one in held:
                    assert one.grip.strings == tuple(range(4 - step, 8 - step))
                    assert one.grip.adjacent
                    assert not isinstance(hand.hold(one.grip), Unplayable)
                    assert max(one.grip.frets) <= 15
            for same in zip(*steps, strict=True):
                shapes = [tuple(high - low for low, high in pairwise(one.pitches)) for one in same]
                assert len(set(shapes)) == 1  # the same intervals between the voices
                assert len({one.pitches[0] % 12 for one in same}) == 1  # from the same note, or its octave


@pytest.mark.parametrize(
    ("symbol", "ways"),
    [
        # by hand: pitch classes, C = 0
        ("Cmaj7", [{0, 4, 7, 11}]),
        ("Dm7b5", [{0, 2, 5, 8}]),
        ("C6", [{0, 4, 7, 9}]),
        ("Cmaj9", [{0, 2, 4, 11}, {2, 4, 7, 11}]),
        ("G7(b9)", [{5, 7, 8, 11}, {2, 5, 8, 11}]),
    ],
)
def test_voices_are_those_of_the_chord(symbol: str, ways: list[set[int]]) -> None:
    assert [set(voices) for voices in voices_of(chord_from_symbol(symbol))] == ways


def test_four_voices_tell_every_chord_of_every_intro(subject: Make) -> None:
    for name in subject().library.intros:
        made = subject(name)
        for planned in made.plan(made.tune.key, 120.0).chords:
            chord = planned.chord
            for voices in voices_of(chord):
                assert len(set(voices)) == 4, chord.symbol
                assert {tone.pitch_class for tone in chord.guide_tones} <= set(voices), chord.symbol
                tones = (*chord.required, *chord.optional)
                assert set(voices) <= {tone.pitch_class for tone in tones}, chord.symbol


def test_a_voicing_is_a_drop_2(subject: Make) -> None:
    # [DV1], [DV2]: a close voicing whose second voice from the top lies an octave lower
    plan = subject("back-door").plan(subject("back-door").tune.key, 120.0)
    for held in gripped(plan, STANDARD_NECK, 2):
        lowest, *rest = held.pitches
        close = sorted([lowest + 12, *rest])
        assert close[-1] - close[0] < 12
        assert close.index(lowest + 12) == 2


def test_within_a_set_the_hand_moves_little(subject: Make) -> None:
    for name in ("back-door", "blues-bass-climbs", "flat-seven-six-two-five"):
        plan = subject(name).plan(subject(name).tune.key, 120.0)
        for step in SETS:
            held = gripped(plan, STANDARD_NECK, step)
            for before, after in pairwise(held):
                moved = [
                    abs(other.fret - one.fret)
                    for one, other in zip(before.grip.places, after.grip.places, strict=True)
                ]
                assert sum(moved) / 4 <= 5, (name, step, str(before.grip), str(after.grip))


def test_the_score_is_the_comp_alone_with_its_places(subject: Make) -> None:
    made = subject("back-door")
    plan = made.plan(made.tune.key, 120.0)
    score = strings_score(plan, Stage(LineUp.SOLO_GUITAR), 3)
    assert {note.part for note in score.notes} == {COMP}
    for note in score.notes:
        assert note.string is not None
        assert note.fret is not None
        assert STANDARD_NECK.pitch(note.string, note.fret) == note.pitch
        assert note.string in {1, 2, 3, 4}
    onsets = sorted({note.onset for note in score.notes})
    assert onsets == [chord.onset for chord in plan.chords]


def test_a_set_that_is_not_there_is_told(subject: Make) -> None:
    made = subject("back-door")
    for step in (0, 4):
        with pytest.raises(UsageError, match="string sets 1 to 3"):
            gripped(made.plan(made.tune.key, 120.0), STANDARD_NECK, step)
