"""Names of notes: chord first, then key; no source but the trade's habit, and theory's own chords."""

from __future__ import annotations

import pytest

from introit.export.sheet.spelling import Following, spelled
from introit.theory.chord import chord_from_symbol
from introit.theory.key import Key
from introit.theory.pitch import Tone


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
    assert str(spelled(63, chord, key, goes_to=Following(64, Tone.from_text("E")))) == "D#"
    assert str(spelled(63, chord, key, goes_to=Following(62, Tone.from_text("D")))) == "Eb"
    assert str(spelled(63, chord, key)) == "D#"


@pytest.mark.parametrize(
    ("pitch", "chord", "key", "alone", "in_grip"),
    [
        (61, "B13", "Db", "Db", "C#"),  # its ninth, over D#
        (59, "Amaj9", "Gb", "B", "B"),  # in the symbol
        (59, "Amaj7", "Gb", "Cb", "B"),
        (60, "A7", "Eb", "C", "C"),  # the key's: no B# for a sharp nine
        (66, "Eb7", "Gb", "Gb", "Gb"),  # the root is the key's, and so is the sharp nine
        (61, "Fm7", "Db", "Db", "Db"),
    ],
)
def test_a_grip_on_a_foreign_root_is_read_by_itself(
    pitch: int, chord: str, key: str, alone: str, in_grip: str
) -> None:
    named, called = chord_from_symbol(chord), Key.from_text(key)
    assert str(spelled(pitch, named, called)) == alone
    assert str(spelled(pitch, named, called, in_grip=True)) == in_grip


@pytest.mark.parametrize(
    ("pitch", "chord", "key", "following", "name"),
    [
        (41, "C#m7", "C# minor", (42, "F#"), "E#"),  # the line and the space beside it, no F before F#
        (41, "A7", "E", (42, "F#"), "E#"),
        (36, "F#m7", "B", (37, "C#"), "B#"),
        (41, "Em7", "E minor", (42, "F#"), "F"),  # one sharp: an E# would be further than it helps
        (40, "Bbm7", "Db", (39, "Eb"), "Fb"),
        (40, "Bb7", "Eb", (39, "Eb"), "E"),
        (47, "Db6", "Db", (46, "Bb"), "Cb"),
        (47, "F6", "F", (46, "Bb"), "B"),
        (43, "E6", "E", (44, "G#"), "G"),  # no double sharp
        (45, "Dbmaj7", "Db", (44, "Ab"), "A"),  # nor double flat
        (42, "Am7", "C", (43, "G"), "F#"),
        (42, "Am7", "C", (41, "F"), "Gb"),
        (54, "Eb7", "C", (53, "F"), "Gb"),  # before the scale of its chord, which calls it F#
        (42, "D7", "C", (41, "F"), "F#"),  # but never before the chord itself
        (40, "Am7", "C", (41, "F"), "E"),  # nor before the key
        (42, "Am7", "C", (45, "A"), "F#"),  # what leaps leans on nothing
    ],
)
def test_what_leads_by_a_half_step_stands_beside_what_it_leads_to(
    pitch: int, chord: str, key: str, following: tuple[int, str], name: str
) -> None:
    goes_to = Following(following[0], Tone.from_text(following[1]))
    assert str(spelled(pitch, chord_from_symbol(chord), Key.from_text(key), goes_to=goes_to)) == name
