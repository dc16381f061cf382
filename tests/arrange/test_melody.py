from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.melody import line_notes, melody_limit
from introit.arrange.plan import Plan, plan_intro
from introit.arrange.riff import riff_figures, riff_notes
from introit.arrange.voicing import voice_plan
from introit.library.model import Melody, RiffNote
from introit.theory.key import Mode, keys

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
        notes = line_notes(plan, voicings)
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
    assert min(note.pitch for note in line_notes(plan, high)) > 76


def test_the_line_is_mostly_guide_tones_and_tensions_by_step(make: Any) -> None:
    moves, kinds = [], []
    for key in keys(Mode.MAJOR):
        plan = plan_of(make, key=str(key))
        notes = line_notes(plan, voice_plan(plan))
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
    notes = line_notes(plan, voice_plan(plan))
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
    assert max(note.end for note in line_notes(plan, voice_plan(plan))) <= melody_limit(plan)


def test_the_riff_follows_the_chords_by_degree(make: Any) -> None:
    """Written out: over Cmaj7 G-E-G, over Dm7 A-F-A."""
    plan = plan_of(make, "Imaj7 #i°7 | ii7 V7 | Imaj7 | V7", melody=Melody("riff", RIFF))
    notes = riff_notes(plan)
    assert [note.pitch % 12 for note in notes[:6]] == [7, 4, 7, 9, 5, 9]
    assert [note.pitch - notes[0].pitch for note in notes[:3]] == [0, -3, 12]
    assert {note.onset // plan.bar_ticks for note in notes} == {0, 1, 2}  # every bar but the last
    assert all(64 <= note.pitch <= 81 for note in notes)


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
