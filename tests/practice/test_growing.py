"""One intro grown in steps: its chords by hand and by an outside reference, its top line in every key."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from music21.harmony import ChordSymbol

from introit.arrange.line_up import LineUp, Stage
from introit.arrange.score import COMP, MELODY, Touch
from introit.practice.growing import (
    CHORD_STEPS,
    STEP_WORDS,
    degree_of,
    grown,
    substitute,
    top_line,
    turnaround,
)
from introit.practice.subject import Subject
from introit.theory.key import Key, Mode, keys
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

Make = Callable[..., Subject]
STEPS = range(1, CHORD_STEPS + 1)
IN_C = {
    # worked out by hand in C; the substitutions are those of every handbook of jazz harmony (no source)
    Mode.MAJOR: (
        "Cmaj7 Am7 Dm7 G7",
        "Cmaj7 A7(b9,b13) Dm7 G7",
        "Em7 A7(b9,b13) Dm7 G7",
        "Em7 A7(b9,b13) Dm7 Db7",
        "Em7 Eb7 Dm7 Db7",
    ),
    Mode.MINOR: (
        "Cm6 Am7b5 Dm7b5 G7(b9,b13)",
        "Cm6 A7(b9,b13) Dm7b5 G7(b9,b13)",
        "Ebmaj7 A7(b9,b13) Dm7b5 G7(b9,b13)",
        "Ebmaj7 A7(b9,b13) Dm7b5 Db7",
        "Ebmaj7 Eb7 Dm7b5 Db7",
    ),
}


def key_of(mode: Mode) -> Key:
    return Key.from_pitch_class(0, mode)


@pytest.mark.parametrize("mode", Mode)
@pytest.mark.parametrize("step", STEPS)
def test_the_chords_of_a_step(subject: Make, mode: Mode, step: int) -> None:
    made = grown(subject("amen-steps"), step, key_of(mode))
    plan = made.plan(key_of(mode), 120.0)
    assert plan.bars == 4
    assert " ".join(chord.chord.symbol for chord in plan.chords[:4]) == IN_C[mode][step - 1]
    assert plan.chords[4:] == tuple(
        replace(chord, onset=chord.onset + plan.head_tick // 2) for chord in plan.chords[:4]
    )


def test_each_step_changes_one_chord() -> None:
    for mode in Mode:
        for step in STEPS[1:]:
            pairs = zip(turnaround(step - 1, mode), turnaround(step, mode), strict=True)
            assert sum(before != after for before, after in pairs) == 1, (mode, step)
    assert len(STEP_WORDS) == CHORD_STEPS
    for step in (0, CHORD_STEPS + 1):
        with pytest.raises(ValueError, match="build has steps 1 to 5"):
            turnaround(step, Mode.MAJOR)


@pytest.mark.parametrize(("dominant", "other"), [("V7", "bII7"), ("VI7(b9,b13)", "bIII7"), ("I7", "bV7")])
def test_a_substitute_lies_a_tritone_away(dominant: str, other: str) -> None:
    assert str(substitute(Numeral.from_text(dominant))) == other


def figure(symbol: str) -> str:
    """A chord symbol as music21 writes it."""
    plain = symbol.replace("m7b5", "ø7").replace("(b9,b13)", "")
    return plain[0] + plain[1:].replace("b", "-", 1) if plain[1:2] == "b" else plain


@pytest.mark.parametrize("mode", Mode)
def test_the_top_line_is_a_tone_of_every_chord_it_stands_over(mode: Mode) -> None:
    for symbols in IN_C[mode]:
        for semitones, symbol in zip(top_line(mode), symbols.split(), strict=True):
            tones = {pitch.pitchClass for pitch in ChordSymbol(figure(symbol)).pitches}
            assert semitones % 12 in tones, symbol


def test_the_top_line_falls_by_step_to_the_third() -> None:
    # five, five, four, four, then the tonic's third: by hand
    assert [[degree_of(place) for place in top_line(mode)] for mode in Mode] == [["5", "5", "4", "4"]] * 2
    assert [degree_of(place) for place in (0, 3, 6, 12, 14)] == ["1", "b3", "#4", "1+", "2+"]


@pytest.mark.parametrize("beats", [3, 4, 5])
@pytest.mark.parametrize("line_up", LineUp)
@pytest.mark.parametrize("mode", Mode)
def test_every_step_has_the_same_top_line_in_every_key(
    subject: Make, mode: Mode, line_up: LineUp, beats: int
) -> None:
    plain = subject("amen-steps", key="C" if mode is Mode.MAJOR else "C minor", meter=Meter(beats))
    feel = next(feel for feel in plain.library.feels.values() if Meter(beats) in feel.meters and feel.comping)
    staged = replace(plain, stage=Stage(line_up), tune=replace(plain.tune, feel=feel.id))
    for key in keys(mode)[:: 1 if beats == 4 else 5]:
        lines = []
        for step in STEPS:
            score = grown(staged, step, key).score(key, 110.0, 3)
            sung = [note for note in score.notes if note.part == MELODY and note.touch is not Touch.ORNAMENT]
            melody = [(note.onset, note.pitch) for note in sung]
            lines.append(melody)
            tonic = key.tonic.pitch_class
            assert [(pitch - tonic) % 12 for _, pitch in melody] == ([*top_line(mode)] * 2)[
                :-1
            ]  # out by beat 3
            tops = dict(melody)
            for note in score.notes:
                if note.part == COMP and note.onset in tops:
                    assert note.pitch < tops[note.onset], (key, step, note)
        assert all(line == lines[0] for line in lines), key


@pytest.mark.parametrize(
    ("first", "symbols"),
    [
        ("ii7", "Em7b5 A7(b9,b13)"),
        ("IVmaj7", "Gm7 C7"),
        ("vi7", "Bm7b5 E7(b9,b13)"),
    ],
)
def test_the_last_two_chords_lead_to_a_head_that_is_not_the_tonic(
    subject: Make, first: str, symbols: str
) -> None:
    made = subject("amen-steps", first_chord=Numeral.from_text("I"))
    made = replace(made, tune=replace(made.tune, first_chord=Numeral.from_text(first)))
    key = key_of(Mode.MAJOR)
    for step in STEPS:
        last = grown(made, step, key).plan(key, 120.0).chords[-2:]
        assert " ".join(chord.chord.symbol for chord in last) == symbols, step
