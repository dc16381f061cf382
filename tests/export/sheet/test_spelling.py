"""Names of notes: chord first, then key; no source but the trade's habit, and theory's own chords."""

from __future__ import annotations

import pytest

from introit.export.sheet.spelling import spelled
from introit.theory.chord import chord_from_symbol
from introit.theory.key import Key


@pytest.mark.parametrize(
    ("pitch", "chord", "key", "name"),
    [
        (67, "Eb7", "Gb", "G"),
        (66, "Eb7", "Gb", "Gb"),  # its sharp nine is a note of the key
        (66, "Eb7", "C", "F#"),
        (66, "Eb7(#9)", "Gb", "F#"),  # written in the symbol, it is what the symbol says
        (62, "Db13(b9)", "Gb", "D"),  # no double flat
        (60, "E+/B#", "C# minor", "B#"),
        (61, "A7", "Eb", "C#"),
        (70, "Gbmaj7", "Db", "Bb"),
        (71, "Cbmaj7", "Eb", "Cb"),
        (65, "F#m7b5", "E minor", "F"),
    ],
)
def test_a_note_is_named_by_its_chord_and_its_key(pitch: int, chord: str, key: str, name: str) -> None:
    assert str(spelled(pitch, chord_from_symbol(chord), Key.from_text(key))) == name


def test_what_is_foreign_to_both_goes_by_where_it_goes() -> None:
    chord, key = chord_from_symbol("C6"), Key.from_text("C")
    assert str(spelled(63, chord, key, goes_to=64)) == "D#"
    assert str(spelled(63, chord, key, goes_to=62)) == "Eb"
    assert str(spelled(63, chord, key)) == "D#"
