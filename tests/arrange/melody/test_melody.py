from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.comp import Stroke
from introit.arrange.melody import line_notes, melody_limit
from introit.arrange.plan import Plan, plan_intro
from introit.arrange.riff import degree_tone, riff_figures, riff_notes
from introit.arrange.score import ScoreNote
from introit.arrange.voicing import voice_plan
from introit.library.model import Library, Melody, RiffNote
from introit.theory.chord import chord_of
from introit.theory.key import Key, Mode, keys
from introit.theory.numeral import Numeral
from introit.theory.pitch import Tone

RIFF = (
    RiffNote(Fraction(0), "5", Fraction(1, 2)),
    RiffNote(Fraction(1, 2), "3", Fraction(1, 2)),
    RiffNote(Fraction(1), "5+", Fraction(1)),
)
TURNAROUND = "iii7 VI7 | ii7 V7 | Imaj9 VI7(b13) | ii9 V7(b13)"


def plan_of(make: Any, text: str = TURNAROUND, *, melody: Melody | None = None, **fields: Any) -> Plan:
    tune = make.tune(**fields)
    return plan_intro(make.intro(make.form(text), melody=melody or Melody("line")), tune, tune.key)


@pytest.mark.parametrize("meter", [0, 1, 2], ids=["4/4", "3/4", "5/4"])
def test_the_line_leaves_air_and_stays_in_its_register(make: Any, meter: int) -> None:
    for key in keys(Mode.MAJOR):
        plan = plan_of(make, key=str(key), meter=make.meters[meter])
        voicings = voice_plan(plan)
        notes = line_notes(plan, voicings, ())
        assert all(64 <= note.pitch <= 81 for note in notes)
        assert all(note.pitch > voicings[plan.at(note.onset)][-1] for note in notes)
        assert len({plan.at(note.onset) for note in notes}) == len(notes)
        sounding = sum(note.length for note in notes)
        assert (
            sounding <= 0.65 * plan.head_tick
        )  # the project's figure for later depth, kept already; no source


def test_the_line_rises_over_a_high_comp(make: Any) -> None:
    plan = plan_of(make)
    high = [(66, 71, 76)] * len(plan.chords)
    assert min(note.pitch for note in line_notes(plan, high, ())) > 76


def test_the_line_is_mostly_guide_tones_and_tensions_by_step(make: Any) -> None:
    moves, kinds = [], []
    for key in keys(Mode.MAJOR):
        plan = plan_of(make, key=str(key))
        notes = line_notes(plan, voice_plan(plan), ())
        moves += [abs(b.pitch - a.pitch) for a, b in pairwise(notes)]
        for note in notes:
            chord = plan.chords[plan.at(note.onset)].chord
            plain = {chord.root.pitch_class, chord.root.up(5).pitch_class}
            kinds.append(note.pitch % 12 not in plain)
    assert sum(move <= 2 for move in moves) >= 0.7 * len(moves)
    assert max(moves) <= 7
    assert sum(kinds) >= 0.8 * len(kinds)


def test_most_phrases_start_off_the_downbeat(make: Any) -> None:
    plan = plan_of(make)
    notes = line_notes(plan, voice_plan(plan), ())
    starts = [min(n.onset for n in notes if n.onset // 7680 == phrase) for phrase in (0, 1)]
    assert all(start % plan.bar_ticks for start in starts)


@pytest.mark.parametrize(
    ("meter", "pickup", "last_beats"),
    [(0, "0", 2), (0, "1", 2), (0, "3", 3), (1, "1", 1), (1, "2", 2), (2, "0", 2)],
)
def test_the_line_is_out_in_time_for_the_head(make: Any, meter: int, pickup: str, last_beats: int) -> None:
    """Melody out by beat 3 of the last bar, the pickup's beats empty: the project's rule, no source."""
    plan = plan_of(make, meter=make.meters[meter], pickup=Fraction(pickup))
    assert melody_limit(plan) == plan.head_tick - last_beats * 960
    assert max(note.end for note in line_notes(plan, voice_plan(plan), ())) <= melody_limit(plan)


# Grips under the line, written out by hand.
LOW_EM, LOW_A, LOW_D = (55, 59, 62), (55, 58, 61, 64), (53, 57, 60)


def test_a_note_ends_where_the_comp_takes_the_coming_chord(make: Any) -> None:
    """Charleston with a push: the hit on the off-beat of two is the next chord's."""
    plan = plan_of(make, "ii9 V13(b9)")
    grips = [(53, 57, 60, 64), (53, 56, 59, 64)]
    pushed = [Stroke(0, 1440, 0, False), Stroke(1440, 1920, 1, False)]
    unpushed = [Stroke(0, 1440, 0, False), Stroke(1440, 1920, 0, False), Stroke(1920, 3840, 1, False)]
    for strokes, end in ((pushed, 1440), (unpushed, 1920)):
        first, *_ = line_notes(plan, grips, strokes)
        assert (first.onset, first.end, first.harmony_tick) == (960, end, 0)
        assert first.pitch == 72  # C5, a minor ninth over the B3 of the coming G13(b9)


def test_a_note_with_less_than_half_a_beat_before_a_push_is_of_the_coming_chord(make: Any) -> None:
    """The line enters on two; the comp takes A7 a triplet later, so the note is one of A7 and held."""
    plan = plan_of(make, "iii7 VI7 | ii7 V7")
    grips = [LOW_EM, LOW_A, LOW_D, (53, 59, 64)]
    strokes = [Stroke(0, 960, 0, False), Stroke(1280, 1920, 1, False)]
    first, second, *_ = line_notes(plan, grips, strokes)
    assert (first.onset, first.end, first.harmony_tick) == (960, 1920, 1920)
    assert first.pitch % 12 in {9, 1, 4, 5, 7, 10, 0}  # A C# E F G Bb C
    assert second.harmony_tick == 3840  # A7 has had its note


def test_a_note_of_both_chords_is_held_through_the_push(make: Any) -> None:
    """D5 over C6 and over Am7, which is pushed: nothing rubs, the note lives out its length."""
    plan = plan_of(make, "I6 vi7 | ii7 V7")
    grips = [(55, 57, 64), (55, 60, 64), LOW_D, (53, 59, 64)]
    strokes = [Stroke(0, 1440, 0, False), Stroke(1440, 1920, 1, False)]
    first, *_ = line_notes(plan, grips, strokes)
    assert (first.pitch, first.onset, first.end) == (74, 960, 1920)


# First, second and third note of the riff 5-3-5 by semitones above the tonic, for every chord that it meets:
# written out by hand from the chords' spelling in C. A chord with b13 has no 5: b13 stands in.
RIFF_OVER = {
    "Imaj7": "G E G", "#i°7": "G E G", "ii7": "A F A", "V7": "D B D", "iiiø7": "Bb G Bb",
    "VI7(b9,b13)": "F C# F", "v7": "D Bb D", "I7": "G E G", "viiø7": "F D F", "III7(b9,b13)": "C Ab C",
    "i6": "G Eb G", "viø7": "Eb C Eb", "iiø7": "Ab F Ab", "V7(b9)": "D B D", "vø7": "Db Bb Db",
    "I7(b9,b13)": "Ab E Ab",
}  # fmt: skip
HEADS = {Mode.MAJOR: ("Imaj7", "ii7", "IVmaj7", "vi7"), Mode.MINOR: ("i6/9", "iiø7", "iv6")}


@pytest.fixture(scope="module")
def riffs(make: Any, shipped: Library) -> list[tuple[Plan, list[ScoreNote]]]:
    """The shipped riff in every key, as written and stretched, before every head."""
    intro = shipped.intros["riff-turnaround"]
    made = []
    for mode, heads in HEADS.items():
        for key in keys(mode):
            for head in heads:
                for tempo in (140.0, 236.0):
                    tune = make.tune(str(key), head, tempo=tempo)
                    plan = plan_intro(intro, tune, key)
                    made.append((plan, riff_notes(plan)))
    return made


def test_the_shipped_riff_note_by_note(riffs: list[tuple[Plan, list[ScoreNote]]]) -> None:
    for plan, notes in riffs:
        tonic = plan.key.tonic.pitch_class
        by_bar = [[note for note in notes if note.onset // 3840 == bar] for bar in range(plan.bars)]
        for bar, group in enumerate(by_bar):
            numeral = str(plan.chords[plan.at(bar * 3840)].numeral)
            expected = [Tone.from_text(name).pitch_class for name in RIFF_OVER[numeral].split()]
            assert [(note.pitch - tonic) % 12 for note in group] == expected, (str(plan.key), numeral)
            assert [(note.onset - bar * 3840, note.length) for note in group] == [
                (0, 480),
                (480, 480),
                (960, 960),
            ]


def test_the_riff_stays_where_it_is_from_bar_to_bar(riffs: list[tuple[Plan, list[ScoreNote]]]) -> None:
    """At most a fourth in four bars, a tritone into the dominant of a minor four only; a fifth in eight."""
    for plan, notes in riffs:
        firsts = [note.pitch for note in notes if note.onset % 3840 == 0]
        leaps = [abs(after - before) for before, after in pairwise(firsts)]
        into_minor_four = str(plan.chords[-1].numeral) == "I7(b9,b13)"
        assert max(leaps) <= (7 if plan.bars == 8 else 6 if into_minor_four else 5), (str(plan.key), firsts)
        assert all(60 <= note.pitch <= 84 for note in notes)


def test_the_riff_in_c_is_this(make: Any, shipped: Library) -> None:
    tune = make.tune(tempo=140.0)
    notes = riff_notes(plan_intro(shipped.intros["riff-turnaround"], tune, tune.key))
    assert [note.pitch for note in notes] == [79, 76, 79, 81, 77, 81] * 2  # G5 E5 G5, A5 F5 A5


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [("V7", "D"), ("V7(b9,b13)", "Eb"), ("V7alt", "Eb"), ("V7(#5)", "D#"), ("iiø7", "Ab"), ("V7(b13)", "Eb")],
)
def test_what_a_plain_fifth_means(symbol: str, expected: str) -> None:
    key = Key.from_text("C")
    assert str(degree_tone(chord_of(Numeral.from_text(symbol), key), "5")) == expected


def test_the_riff_follows_the_chords_by_degree(make: Any) -> None:
    """Written out: over Cmaj7 G-E-G, over Dm7 A-F-A."""
    plan = plan_of(make, "Imaj7 #i°7 | ii7 V7 | Imaj7 | V7", melody=Melody("riff", RIFF))
    notes = riff_notes(plan)
    assert [note.pitch % 12 for note in notes[:6]] == [7, 4, 7, 9, 5, 9]
    assert [note.pitch - notes[0].pitch for note in notes[:3]] == [0, -3, 12]
    assert {note.onset // plan.bar_ticks for note in notes} == {0, 1, 2}  # every bar but the last
    assert all(60 <= note.pitch <= 84 for note in notes)


def test_a_plain_degree_takes_the_chords_own_alteration(make: Any) -> None:
    nine = (RiffNote(Fraction(0), "9", Fraction(1)),)
    plan = plan_of(make, "V7(b9) | V9 | iiø7 | V7", melody=Melody("riff", nine))
    # Ab, A, and Eb from the scale of Dm7b5, where b9 is mostly melodic (TRADE 7, [MN]).
    assert [note.pitch % 12 for note in riff_notes(plan)] == [8, 9, 3]


def test_the_riff_plays_in_the_bars_it_is_given_also_when_stretched(make: Any) -> None:
    tune = make.tune(tempo=240.0)
    written = make.intro(make.form("Imaj7 | V7"), melody=Melody("riff", RIFF, bars=(1,)), stretch_above=200)
    notes = riff_notes(plan_intro(written, tune, tune.key))
    assert {note.onset // 3840 for note in notes} == {0, 1}


def test_figures_span_the_riff_and_know_the_chords_it_states(make: Any) -> None:
    plan = plan_of(make, "Imaj7 #i°7 | ii7 V7", melody=Melody("riff", RIFF))
    (figure,) = riff_figures(plan, riff_notes(plan))
    assert (figure.start, figure.end, figure.chords) == (0, 1920, frozenset({0}))
