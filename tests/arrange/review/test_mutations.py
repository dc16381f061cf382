"""A real score with one note spoilt: the rule that is there for it says so, and says it of that note.

What is wrong with the score already is no concern here: only what the spoilt note adds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import combinations

import pytest
from music21 import interval, pitch

from introit.arrange.arranger import arrange
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.review import Breach
from introit.arrange.review.breach import pitch_name
from introit.arrange.review.hearing import Hearing
from introit.arrange.review.register import low_intervals
from introit.arrange.scene import set_scene
from introit.arrange.score import BASS, COMP, MELODY, Score, ScoreNote
from introit.library.measures import Measures
from introit.library.model import Library, Tune
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

Judge = Callable[[Score], list[Breach]]
Write = Callable[..., Score]
Spoil = Callable[[ScoreNote], ScoreNote]


@pytest.fixture(scope="module", params=["C", "Eb"])
def real(request: pytest.FixtureRequest, shipped: Library) -> Score:
    intro = shipped.intros["one-six-two-five"]
    key = Key.from_text(request.param)
    tune = Tune("tune", "T", key, Meter(4), 140.0, "medium-swing", Numeral.from_text("Imaj7"))
    return arrange(plan_intro(intro, tune, key), shipped, stage=Stage(LineUp.WITH_KEYS), seed=5)


def added(score: Score, note: ScoreNote, spoilt: ScoreNote, judge: Judge) -> list[Breach]:
    """What is wrong once a note is spoilt, and was not before."""
    rest = [one for one in score.notes if one != note]
    notes = tuple(sorted([*rest, spoilt], key=lambda one: (one.onset, one.part, one.pitch)))
    before = set(judge(score))
    return [breach for breach in judge(replace(score, notes=notes)) if breach not in before]


def a_note(score: Score, part: int, *, last: bool = False, at_change: bool = False) -> ScoreNote:
    changes = {chord.onset for chord in score.plan.chords[1:]}
    notes = [note for note in score.notes if note.part == part and (note.onset in changes or not at_change)]
    return notes[-1 if last else 0]


SPOILT = [
    ("change", BASS, lambda note: note._replace(pitch=note.pitch + 6 if note.pitch < 40 else note.pitch - 6)),
    ("change", BASS, lambda note: note._replace(harmony_tick=0)),
    ("range", BASS, lambda note: note._replace(pitch=27)),
    ("comp floor", COMP, lambda note: note._replace(pitch=47)),
    ("range", MELODY, lambda note: note._replace(pitch=99)),
    ("under the melody", COMP, lambda note: note._replace(pitch=83, length=1920)),
]


@pytest.mark.parametrize(("rule", "part", "spoil"), SPOILT)
def test_a_spoilt_note_is_found_where_it_is(
    rule: str, part: int, spoil: Spoil, real: Score, judge: Judge
) -> None:
    melody = [note for note in real.notes if note.part == MELODY]
    note = a_note(real, part, at_change=part == BASS)
    if rule == "under the melody":  # a note of the comp under a sounding one of the melody
        note = next(
            one
            for one in real.notes
            if one.part == COMP and any(over.onset <= one.onset < over.end for over in melody)
        )
    found = [breach for breach in added(real, note, spoil(note), judge) if breach.rule == rule]
    bar, within = divmod(note.onset, real.plan.bar_ticks)
    assert (bar + 1, within / 960 + 1) in {(breach.bar, breach.beat) for breach in found}, found


def test_a_note_held_over_the_head_is_found(real: Score, judge: Judge) -> None:
    note = a_note(real, BASS, last=True)
    spoilt = note._replace(length=real.plan.head_tick - note.onset + 1)
    assert "after the head" in {breach.rule for breach in added(real, note, spoilt, judge)}


def test_the_last_bass_note_on_the_heads_root_is_found(real: Score, judge: Judge) -> None:
    note = a_note(real, BASS, last=True)
    root = 36 + real.plan.head.root.pitch_class
    assert "last bass note" in {breach.rule for breach in added(real, note, note._replace(pitch=root), judge)}


def test_a_minor_ninth_over_the_bass_is_found(real: Score, judge: Judge) -> None:
    """On a chord that is no dominant, with a pitch that is in nobody's way but the bass's."""
    plain = {chord.onset for chord in real.plan.chords if not chord.chord.is_dominant}
    low = next(note for note in real.notes if note.part == BASS and note.onset in plain)
    note = a_note(real, COMP)
    spoilt = note._replace(
        onset=low.onset, length=low.length, harmony_tick=low.harmony_tick, pitch=low.pitch + 25
    )
    found = [breach for breach in added(real, note, spoilt, judge) if breach.rule == "clash"]
    assert f"{pitch_name(low.pitch)} under {pitch_name(spoilt.pitch)}" in " ".join(map(str, found))


def test_the_intervals_are_called_by_their_names(write: Write, measures: Measures) -> None:
    """Every muddy pair of low notes, beside the name that music21 has for its interval."""
    empty = write("Imaj7 | V7")
    for low, high in combinations(range(30, 54), 2):
        notes = (ScoreNote(0, 960, 0, BASS, low), ScoreNote(0, 960, 0, COMP, high))
        for breach in low_intervals(Hearing(replace(empty, notes=notes), None, measures)):
            name = interval.Interval(pitch.Pitch(midi=low), pitch.Pitch(midi=high))
            words = f"a {_plain(name.semiSimpleNiceName if high - low < 13 else name.niceName, high - low)} ("
            assert words in breach.text, (low, high)


def _plain(name: str, semitones: int) -> str:
    """music21's name of a spelled interval, as this house says it."""
    plain = name.lower().removeprefix("perfect ")
    if semitones == 6:
        return "tritone"
    spelled = {
        "augmented unison": "minor second",
        "diminished third": "major second",
        "augmented second": "minor third",
        "diminished fourth": "major third",
        "augmented third": "fourth",
        "diminished sixth": "fifth",
        "augmented fifth": "minor sixth",
        "diminished seventh": "major sixth",
        "augmented sixth": "minor seventh",
        "diminished octave": "major seventh",
        "augmented octave": "minor ninth",
        "diminished tenth": "major ninth",
        "augmented ninth": "minor tenth",
        "diminished eleventh": "major tenth",
    }
    return spelled.get(plain, plain)


@pytest.mark.parametrize("midi", range(21, 109))
def test_notes_are_called_as_music21_calls_them(midi: int) -> None:
    assert pitch.Pitch(pitch_name(midi).replace("b", "-")).midi == midi


def test_an_empty_score_breaks_no_hard_rule(write: Write, judge: Judge) -> None:
    assert judge(write("ii7 | V7")) == []
    assert set_scene(write("ii7 | V7").plan, Stage()).units
