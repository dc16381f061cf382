"""A guitar alone: whatever is asked of it, one pair of hands can play what it gets.

The hand is the one that the tests of `theory` hold against people's fingerings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from introit.arrange.arranger import arrange, ready
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.one_guitar.fitting import fitted
from introit.arrange.plan import plan_intro
from introit.arrange.score import BASS, COMP, MELODY, Score, ScoreNote
from introit.arrange.shifting import FREE_SHIFT
from introit.library.model import Intro, Library, Tune
from introit.performance import PARTS
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard, Place
from introit.theory.grip import Grip
from introit.theory.holding import FrettingHand
from introit.theory.key import Key, Mode
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.theory.plucking import Plucking

NECK = Fretboard()
HAND = FrettingHand(NECK)
BAR = 3840
SOLO = Stage(LineUp.SOLO_GUITAR)


def fit(notes: Sequence[ScoreNote], *, plucking: Plucking = Plucking.FINGERS) -> list[ScoreNote]:
    return fitted(notes, NECK, plucking=plucking, bar_ticks=BAR)


def note(onset: int, length: int, part: int, pitch: int, place: tuple[int, int] | None = None) -> ScoreNote:
    string, fret = place or (None, None)
    return ScoreNote(onset, length, 0, part, pitch, string=string, fret=fret)


def held_at(notes: Sequence[ScoreNote], tick: int) -> Fingering:
    """How everything that sounds at a tick is held; fails where it cannot be."""
    sounding = [one for one in notes if one.onset <= tick < one.end]
    places = [Place(one.string or 0, one.fret or 0) for one in sounding]
    held = HAND.hold(Grip.from_places(places))
    assert isinstance(held, Fingering), held
    return held


def position_of(stopped: Sequence[ScoreNote]) -> int:
    """The fret at which the index lies or would lie; 0 when nothing is stopped."""
    fingered = [(one.finger or 0, one.fret or 0) for one in stopped]
    return max(1, min(fingered)[1] - min(fingered)[0] + 1) if fingered else 0


def check_playable(notes: Sequence[ScoreNote]) -> None:
    for one in notes:
        assert one.string is not None
        assert one.fret is not None
        assert NECK.pitch(one.string, one.fret) == one.pitch
        assert one.length > 0
    for tick in sorted({one.onset for one in notes}):
        held_at(notes, tick)


def test_a_melody_over_a_held_grip_is_put_where_the_hand_is() -> None:
    # D minor seven at the fifth fret: D3 on string 5, C4 on 3, F4 on 2; A4 lies on string 1 there
    grip = [note(0, BAR, BASS, 50, (5, 5)), note(0, BAR, COMP, 60, (3, 5)), note(0, BAR, COMP, 65, (2, 6))]
    played = fit([*grip, note(1920, 960, MELODY, 69)])
    melody = next(one for one in played if one.part == MELODY)
    assert (melody.string, melody.fret) == (1, 5)
    assert next(one for one in played if one.part == BASS).end == BAR
    check_playable(played)


def test_inner_voices_are_let_go_before_the_bass_for_a_melody_out_of_reach() -> None:
    grip = [note(0, BAR, BASS, 41, (6, 1)), note(0, BAR, COMP, 56, (3, 1)), note(0, BAR, COMP, 60, (2, 1))]
    played = fit([*grip, note(1920, 1920, MELODY, 72)])  # C5 lies at the eighth fret at the lowest
    check_playable(played)
    assert [one.pitch for one in played if one.part == MELODY] == [72]
    assert all(one.end <= 1920 for one in played if one.part == COMP)


def test_a_melody_note_that_the_grip_has_too_is_one_note() -> None:
    grip = [note(0, BAR, BASS, 48, (5, 3)), note(0, BAR, COMP, 64, (2, 5)), note(0, BAR, MELODY, 64)]
    played = fit(grip)
    assert sorted((one.part, one.pitch) for one in played) == [(MELODY, 64), (BASS, 48)]


def test_a_bass_players_notes_are_raised_to_where_the_neck_begins() -> None:
    played = fit([note(0, 960, BASS, 28), note(960, 960, BASS, 38)])
    assert [one.pitch for one in played] == [40, 50]


def test_the_hand_breathes_before_it_jumps() -> None:
    low = [note(0, 1920, BASS, 41, (6, 1)), note(0, 1920, COMP, 60, (2, 1))]
    high = [note(1920, 1920, BASS, 57, (5, 12)), note(1920, 1920, COMP, 67, (3, 12))]
    played = fit([*low, *high])
    assert {one.end for one in played if one.onset == 0} == {1920 - 480}


def test_a_bass_note_goes_up_an_octave_before_the_hand_leaps_to_it() -> None:
    """G2 lies at the third fret alone, G3 at the tenth of string 5, where the hand is for D5."""
    high = [note(0, 480, MELODY, 74), note(480, 480, MELODY, 76)]
    chord = [note(960, 960, BASS, 43, (6, 3)), note(960, 960, COMP, 65, (3, 10))]
    played = fit([*high, *chord])
    assert [one.pitch for one in played if one.part == BASS] == [55]
    assert [one.pitch for one in played if one.part == MELODY] == [74, 76]
    check_playable(played)


def test_a_grip_is_taken_elsewhere_before_the_hand_leaps_to_it() -> None:
    line = [note(0, 480, MELODY, 74), note(480, 480, MELODY, 76)]  # E5 at the ninth position at the lowest
    grip = [note(960, 960, COMP, 62, (3, 7)), note(960, 960, COMP, 67, (1, 3))]
    played = [one for one in fit([*line, *grip]) if one.part == COMP]
    assert [one.pitch for one in played] == [62, 67]
    assert [(one.string, one.fret) for one in played] != [(3, 7), (1, 3)]


def test_a_fifth_of_the_thumb_never_rubs_against_what_lies_over_it(shipped: Library) -> None:
    """The thirteenth of a dominant that moves to its flat thirteenth lies a minor ninth over the fifth."""
    for key in ("C", "F", "A", "Ab"):
        score = score_of(shipped.intros["chain-of-dominants"], shipped, key)
        bass = [one for one in score.notes if one.part == BASS]
        for low in bass:
            chord = score.plan.chords[score.plan.at(low.harmony_tick)].chord
            over = [one for one in score.notes if one.onset < low.end and low.onset < one.end]
            if low.pitch % 12 != chord.root.pitch_class:
                assert not {one.pitch - low.pitch for one in over} & {1, 13, 25, 37}


@pytest.mark.parametrize("key", ["Eb minor", "C# minor", "F# minor"])
def test_the_thumb_waits_with_a_push_under_a_note_that_it_would_rub(shipped: Library, key: str) -> None:
    """The sixth that is sung over the minor one lies a half step over the root of the flat six."""
    tune = Tune("t", "T", Key.from_text(key), Meter(3), 89.0, "slow-swing", Numeral.from_text("i6/9"))
    tune = replace(tune, pickup=Fraction(5, 2))
    plan = plan_intro(shipped.intros["flat-six-five-in-two-bars"], tune, tune.key)
    for seed in range(8):
        score = arrange(plan, shipped, stage=SOLO, seed=seed)
        sung = [one for one in score.notes if one.part == MELODY]
        for low in (one for one in score.notes if one.part == BASS):
            over = [one for one in sung if one.onset < low.end and low.onset < one.end]
            chord = score.plan.chords[score.plan.at(low.harmony_tick)].chord
            early = [one for one in over if one.harmony_tick < low.harmony_tick or not chord.is_dominant]
            assert not {one.pitch - low.pitch for one in early} & {1, 13, 25, 37}


@st.composite
def guitar_parts(draw: st.DrawFn) -> list[ScoreNote]:
    """A bass note, some inner voices and a melody in eighths, none with a place."""
    notes = []
    for part, low, high, most in ((BASS, 40, 55, 4), (COMP, 50, 70, 10), (MELODY, 64, 81, 8)):
        for _ in range(draw(st.integers(0, most))):
            onset = 480 * draw(st.integers(0, 15))
            notes.append(note(onset, 480 * draw(st.integers(1, 8)), part, draw(st.integers(low, high))))
    return notes


@settings(max_examples=60, deadline=None)
@given(guitar_parts(), st.sampled_from(Plucking))
def test_whatever_is_asked_can_be_played_and_the_melody_is_there(
    notes: list[ScoreNote], plucking: Plucking
) -> None:
    played = fit(notes, plucking=plucking)
    check_playable(played)
    by_onset: dict[int, set[int]] = {}
    for one in notes:
        if one.part == MELODY:
            by_onset.setdefault(one.onset, set()).add(one.pitch)
    for onset, pitches in by_onset.items():
        if len(pitches) == 1:  # two melody notes at once are no melody
            assert pitches <= {one.pitch for one in played if one.onset == onset}


def score_of(intro: Intro, library: Library, key: str, *, stage: Stage = SOLO) -> Score:
    called = Key.from_text(key)
    meter = intro.meters[0]
    feel = next(name for name in intro.feels if meter in library.feels[name].meters)
    first = Numeral.from_text("i6/9" if called.mode is Mode.MINOR else "Imaj7")
    tune = Tune("t", "T", called, meter, library.feels[feel].typical_tempo, feel, first)
    return arrange(plan_intro(intro, tune, called), library, stage=stage)


def shipped_in(shipped: Library, mode: Mode) -> list[Intro]:
    return [intro for intro in shipped.intros.values() if any(form.mode is mode for form in intro.forms)]


@pytest.mark.parametrize("key", ["Eb", "A", "B minor"])
def test_every_shipped_intro_is_playable_alone(key: str, shipped: Library) -> None:
    leaps: list[tuple[str, int]] = []
    for intro in shipped_in(shipped, Key.from_text(key).mode):
        score = score_of(intro, shipped, key)
        check_playable(score.notes)
        assert any(one.part == BASS for one in score.notes), intro.id
        last, free = 0, 0
        for tick in sorted({one.onset for one in score.notes}):
            stopped = [one for one in score.notes if one.onset <= tick < one.end and one.fret]
            position = position_of(stopped)
            if position and last and abs(position - last) > FREE_SHIFT:
                leaps += [(intro.id, tick)] if tick - free < 480 else []
            last, free = position or last, max([free, *(one.end for one in stopped)])
    assert leaps == []


@pytest.mark.parametrize(
    "stage",
    [
        Stage(LineUp.SOLO_GUITAR, Fretboard((38, 45, 50, 55, 59, 64))),
        Stage(LineUp.SOLO_GUITAR, Fretboard((35, 40, 45, 50, 55, 59, 64))),
        Stage(LineUp.SOLO_GUITAR, Fretboard(capo=3)),
        Stage(LineUp.SOLO_GUITAR, plucking=Plucking.PICK),
    ],
)
def test_other_necks_and_a_pick(stage: Stage, shipped: Library) -> None:
    neck = stage.fretboard
    for name in ("back-door", "three-six-two-five", "dominant-vamp"):
        score = score_of(shipped.intros[name], shipped, "F", stage=stage)
        for one in score.notes:
            assert one.string is not None
            assert one.fret is not None
            assert neck.pitch(one.string, one.fret) == one.pitch


def test_a_guitar_alone_has_one_sound(shipped: Library) -> None:
    tune = replace(shipped.tunes["late-bus-to-orrin"], count_off=1)
    performance = ready(tune, tune.key, shipped, stage=SOLO)
    assert {PARTS[one.part] for one in performance.notes} == {"melody", "click"}
