"""What one ear hears before a tune: tonic, the head's first chord, the melody's first note."""

from __future__ import annotations

from typing import Any

import pychord
import pytest

from introit.arrange.arranger import ready
from introit.arrange.cue import cue_of, first_note_of
from introit.arrange.plan import Plan, plan_intro
from introit.library.model import Library
from introit.performance import PARTS, PlayedNote
from introit.theory.key import Key
from introit.units import TEMPO_MAX, TEMPO_MIN

NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def plan_of(make: Any, first_chord: str, key: str, **fields: Any) -> Plan:
    tune = make.tune(key=key, first_chord=first_chord, **fields)
    return plan_intro(make.intro(make.form("ii7 V7 | H", tune.key.mode)), tune, tune.key)


def seconds(notes: tuple[PlayedNote, ...], tempo: float) -> float:
    return max(note.end for note in notes) / 960 * 60 / tempo


@pytest.mark.parametrize(
    ("key", "first_chord", "tonic", "symbol"),
    [
        ("C", "Imaj7", "C", "CM7"),
        ("Bb", "ii7", "Bb", "Cm7"),
        ("Eb", "IV6", "Eb", "Ab6"),
        ("F#", "I6", "Gb", "Gb6"),
        ("C minor", "i7", "C", "Cm7"),
        ("G minor", "iiø7", "G", "Am7-5"),
        ("D", "V7", "D", "A7"),
    ],
)
def test_the_tonic_and_then_the_heads_first_chord_in_its_key(
    make: Any, key: str, first_chord: str, tonic: str, symbol: str
) -> None:
    """The chord's tones as pychord 1.4 spells the symbol."""
    first, *chord = cue_of(plan_of(make, first_chord, key))
    assert NAMES[first.pitch % 12] == tonic
    assert {note.onset for note in chord} == {first.end}
    heard = {note.pitch % 12 for note in chord}
    assert heard == {pychord.utils.note_to_val(name) for name in pychord.Chord(symbol).components()}
    root = min(chord, key=lambda note: note.pitch)
    assert root.pitch % 12 == pychord.utils.note_to_val(pychord.Chord(symbol).root)


def test_tensions_and_a_bass_note_are_left_out(make: Any) -> None:
    plain, coloured = (cue_of(plan_of(make, chord, "C")) for chord in ("V7", "V13(b9)"))
    assert {note.pitch for note in coloured} == {note.pitch for note in plain}
    assert {note.pitch for note in cue_of(plan_of(make, "ii7/5", "C"))} == {
        note.pitch for note in cue_of(plan_of(make, "ii7", "C"))
    }


@pytest.mark.parametrize("tempo", [TEMPO_MIN, 66, 120, 280, TEMPO_MAX])
def test_it_is_told_in_two_seconds_however_slow_and_can_be_heard_however_fast(
    make: Any, tempo: float
) -> None:
    """No source: what a listener needs, and what a bandstand leaves."""
    plan = plan_of(make, "Imaj7", "Bb", tempo=tempo, first_note="5")
    cue = cue_of(plan)
    assert 0.9 < seconds(cue, tempo) < 2
    assert cue[0].onset == 0
    assert cue[0].end / 960 * 60 / tempo >= 0.39
    assert 0.5 < seconds(first_note_of(plan), tempo) < 2


def test_a_beat_that_can_be_heard_is_the_tunes_own(make: Any) -> None:
    assert cue_of(plan_of(make, "Imaj7", "C", tempo=120))[0].end == 960


@pytest.mark.parametrize("key", NAMES)
def test_it_lies_about_middle_c_and_is_quiet(make: Any, key: str) -> None:
    """From G3 (55), over the bass, to F5 (77), the treble stave's top line; common practice, no source."""
    plan = plan_of(make, "Imaj7", str(Key.from_text(key)), first_note="7")
    for note in (*cue_of(plan), *first_note_of(plan)):
        assert 55 <= note.pitch <= 77
        assert 1 <= note.velocity < 64  # 64: between mezzo-piano and mezzo-forte (MIDI 1.0, from memory)
        assert PARTS[note.part] == "cue"
        assert note.end > note.onset == note.harmony_tick


@pytest.mark.parametrize(
    ("key", "degree", "name"), [("Bb", "5", "F"), ("C", "b3", "Eb"), ("A minor", "b3", "C"), ("E", "7", "Eb")]
)
def test_the_singers_first_note_is_the_tunes(make: Any, key: str, degree: str, name: str) -> None:
    first_chord = "i7" if "minor" in key else "Imaj7"
    (note,) = first_note_of(plan_of(make, first_chord, key, first_note=degree))
    assert NAMES[note.pitch % 12] == name
    assert note.onset == 0


def test_a_first_note_that_the_tune_does_not_name_is_not_made_up(make: Any) -> None:
    assert first_note_of(plan_of(make, "Imaj7", "C")) == ()


def test_they_come_with_the_performance_and_are_no_part_of_it(shipped: Library) -> None:
    tune = shipped.tunes["late-bus-to-orrin"]
    performance = ready(tune, Key.from_text("E"), shipped)
    assert NAMES[performance.cue[0].pitch % 12] == "E"
    assert "cue" not in {PARTS[note.part] for note in performance.notes}
    assert type(performance).from_bytes(performance.to_bytes()) == performance
