"""Chord symbols in MusicXML, read by music21: root, bass and pitch classes of every quality and tension.

A thirteenth chord is read with all its thirds below (2, 5), and a fifth stays beside a flat thirteenth: what
a reader adds so is known by name here; nothing else may be more, and nothing may be less.
"""

from __future__ import annotations

import pytest
from music21.musicxml.xmlToM21 import MeasureParser

from introit.errors import NotationError
from introit.export.harmony_xml import harmony
from introit.theory.chord import Chord, chord_from_symbol
from introit.theory.quality import ALTERATIONS, QUALITIES

ROOTS = ("C", "Gb", "F#", "Cb", "E")
STACKED = {"maj13": {2, 5, 7}, "m11": {2, 7}, "m13": {2, 5, 7}, "13": {2, 5, 7}, "13sus4": {2, 7}}
"""Semitones over the root that a reader stacks below the top of these kinds."""
ALTERED = {1, 3, 7, 8}
"""b9, #9, b13 and the fifth, where a symbol says `alt` and no more."""


def symbols() -> list[str]:
    found = []
    for quality in QUALITIES.values():
        endings = [quality.name, *(f"{quality.name}({tension})" for tension in ALTERATIONS[quality.family])]
        found += [ending for ending in endings if is_a_chord(ending)]
    assert len(found) > 130
    return found


def is_a_chord(ending: str) -> bool:
    """Not where the tension is there already."""
    try:
        return chord_from_symbol(f"C{ending}").symbol == f"C{ending}"
    except NotationError:
        return False


def read(chord: Chord) -> tuple[str, str, set[int]]:
    """Root, bass and pitch classes, as music21 understands the element."""
    found = MeasureParser().xmlToChordSymbol(harmony(chord, chord.symbol))
    pitches = {pitch.pitchClass for pitch in found.pitches}
    return found.root().name.replace("-", "b"), found.bass().name.replace("-", "b"), pitches


@pytest.mark.parametrize("ending", symbols())
def test_music21_reads_the_pitches_of_every_chord(ending: str) -> None:
    for root in ROOTS:
        chord = chord_from_symbol(root + ending)
        name, bass, pitches = read(chord)
        assert (name, bass) == (root, root)
        lowest = chord.root.pitch_class
        required = {(tone.pitch_class - lowest) % 12 for tone in chord.required}
        members = required | {
            (tone.pitch_class - lowest) % 12 for tone in chord.optional if tone.name in chord.kind.optional
        }
        more = STACKED.get(chord.quality, set()) | ({7} if "b13" in chord.alterations else set())
        if chord.quality == "7alt":
            more |= {7} if chord.alterations else ALTERED
        heard = {(pitch - lowest) % 12 for pitch in pitches}
        assert required <= heard <= members | more, (chord.symbol, sorted(heard))


@pytest.mark.parametrize(
    ("symbol", "root", "bass"),
    [
        ("Cbmaj7/Bb", "Cb", "Bb"),
        ("C6/9/E", "C", "E"),
        ("F#m6/9", "F#", "F#"),
        ("Dm7/G", "D", "G"),
        ("E+/B#", "E", "B#"),
    ],
)
def test_a_slash_is_a_bass_note_and_six_nine_is_none(symbol: str, root: str, bass: str) -> None:
    assert read(chord_from_symbol(symbol))[:2] == (root, bass)


def test_its_text_is_the_symbols_own_ending() -> None:
    """A reader that shows the kind's text shows what we write; degrees are not printed beside it."""
    for symbol in ("Db13(b9)", "C7alt", "F#m7b5", "Ab7sus4(b9)/Db", "G6/9"):
        element = harmony(chord_from_symbol(symbol), symbol)
        kind = element.find("kind")
        assert kind is not None
        root = element.findtext("root/root-step", "") + {"1": "#", "-1": "b"}.get(
            element.findtext("root/root-alter", ""), ""
        )
        assert root + kind.get("text", "") == symbol.split("/Db")[0]
        assert {degree.get("print-object") for degree in element.iter("degree")} <= {"no"}
