"""The pedal point: when it is struck, and in which octave."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from introit.arrange.bass import pedal_notes
from introit.arrange.score import COMP, ScoreNote
from introit.theory.key import Mode, keys

BEAT = 960


def timed(notes: Sequence[ScoreNote]) -> list[tuple[float, float]]:
    return [(note.onset / BEAT, note.length / BEAT) for note in notes]


def test_it_is_one_low_note_on_the_strong_beats(bass: Any) -> None:
    notes = pedal_notes(bass.plan("iii7 VI7(b9) | ii7 V7", pedal="5"))
    assert timed(notes) == [(0, 2), (2, 2), (4, 2), (6, 2)]
    assert {note.pitch for note in notes} == {43}
    assert [note.accent for note in notes] == [True, False, True, False]


@pytest.mark.parametrize(("meter", "expected"), [(1, [(0, 3)]), (2, [(0, 3), (3, 2)])])
def test_the_strong_beats_of_other_meters(
    make: Any, bass: Any, meter: int, expected: list[tuple[float, float]]
) -> None:
    assert timed(pedal_notes(bass.plan("ii7 V7", pedal="5", meter=make.meters[meter]))) == expected


@pytest.mark.parametrize("tempo", [56.0, 240.0])
def test_slow_or_fast_it_is_held_through_the_bar(bass: Any, tempo: float) -> None:
    assert timed(pedal_notes(bass.plan("ii7 V7", pedal="5", tempo=tempo))) == [(0, 4)]


def test_now_and_then_it_lifts_an_octave(bass: Any) -> None:
    notes = pedal_notes(bass.plan(" | ".join(["ii7 V7"] * 8), pedal="1"))
    lifted = [note.onset / BEAT for note in notes if note.pitch == notes[0].pitch + 12]
    assert lifted == [14]
    assert {note.pitch for note in notes} == {notes[0].pitch, notes[0].pitch + 12}


@pytest.mark.parametrize("key", [str(key) for key in keys(Mode.MAJOR)])
def test_it_never_lifts_over_d3(bass: Any, key: str) -> None:
    """D3 is common practice, no source."""
    notes = pedal_notes(bass.plan(" | ".join(["ii7 V7"] * 8), pedal="5", key=key))
    assert max(note.pitch for note in notes) <= 50


def test_it_does_not_lift_into_the_comp(bass: Any) -> None:
    comp = [ScoreNote(12 * BEAT, 4 * BEAT, 12 * BEAT, COMP, pitch) for pitch in (52, 65)]
    notes = pedal_notes(bass.plan(" | ".join(["ii7 V7"] * 8), pedal="1"), above=comp, distance=7)
    assert len({note.pitch for note in notes}) == 1


def test_it_takes_the_octave_that_the_comp_leaves(bass: Any) -> None:
    """F2 under A3 is clear, under C3 it is a fifth; Eb2 under C3 is too near and goes down an octave."""
    plan = bass.plan("I | I", pedal="b7", key="F")
    high = pedal_notes(plan, above=[ScoreNote(0, 8 * BEAT, 0, COMP, 60)], distance=7)
    low = pedal_notes(plan, above=[ScoreNote(0, 8 * BEAT, 0, COMP, 48)], distance=7)
    assert {note.pitch for note in high} == {39}
    assert {note.pitch for note in low} == {39}  # Eb1 is not on the instrument: the lesser evil stays
    plan = bass.plan("I | I", pedal="5")
    low = pedal_notes(plan, above=[ScoreNote(0, 8 * BEAT, 0, COMP, 49)], distance=7)
    assert {note.pitch for note in low} == {31}


@pytest.mark.parametrize("degree", ["1", "5", "b7"])
def test_it_is_in_the_register_in_every_key(bass: Any, degree: str) -> None:
    """E1 to G3, mostly below D3 (from memory)."""
    for key in keys(Mode.MAJOR):
        notes = pedal_notes(bass.plan("ii7 V7 | ii7 V7", pedal=degree, key=str(key)))
        assert all(28 <= note.pitch < 50 for note in notes)


def test_it_ends_where_it_is_freed(bass: Any) -> None:
    plan = bass.plan("ii7 V7 | ii7 V7", pedal="5", leads=("I",), first_chord="vi7")
    assert timed(pedal_notes(plan)) == [(0, 2), (2, 2), (4, 2)]


def test_without_one_there_is_none(bass: Any) -> None:
    assert pedal_notes(bass.plan("ii7 V7")) == []


def test_it_is_let_go_for_an_early_grip_of_the_next_chord(bass: Any) -> None:
    """A ninth over C2 is mud ([LI-A]); with a grip of a chord that it lies under it has to bear that."""
    plan = bass.plan("ii7 V7 | ii7 V7", pedal="1", leads=("I",), first_chord="vi7")
    freed = plan.chords[3].onset
    early = [ScoreNote(freed - 480, 960, freed, COMP, pitch) for pitch in (50, 60)]
    own = [ScoreNote(freed - 480, 960, freed - 1920, COMP, pitch) for pitch in (50, 60)]
    assert timed(pedal_notes(plan, above=early, distance=7))[-1] == (4, 1.5)
    assert timed(pedal_notes(plan, above=own, distance=7))[-1] == (4, 2)
    coming = [note._replace(onset=1440, harmony_tick=1920) for note in early]
    assert timed(pedal_notes(plan, above=coming, distance=7)) == [(0, 2), (2, 2), (4, 2)]
