"""Chord names as places in a key, held to music21 and pychord: the same pitch classes, in any key.

What a library adds of its own (a thirteenth's eleventh, the fifth under b13) is allowed for as in
`test_references`; where a chord is no more than its written members, the pitch classes are the same.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import harmony
from pychord import Chord as PychordChord

from introit.errors import NotationError
from introit.library.bars import Bar
from introit.library.chart import chorus_bars
from introit.library.content import program_root
from introit.library.loader import load_library
from introit.theory.chord import Chord, chord_of
from introit.theory.key import Key, Mode, keys
from introit.theory.named import numeral_named
from introit.theory.numeral import Numeral
from introit.theory.pitch import Tone, semitones_above

ROOTS = ("C", "C#", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B", "Cb", "E#")
ENDINGS = (
    "", "6", "maj7", "maj9", "m", "m6", "m7", "m9", "m7b5", "dim7", "7", "9", "7b9", "7#9", "7#11", "7b5",
    "7#5", "sus4", "7sus4", "9sus4", "aug", "mmaj7",
)  # fmt: skip
"""Chords that both libraries read, and that consist of their written members alone."""
BASSES = ("", "/C", "/Eb", "/F#", "/G", "/Bb")
# What the libraries call it where they do not know the usual name.
FOR_MUSIC21 = {
    "7b5": "dom7dim5", "7#5": "7+", "mmaj7": "mM7", "m7b5": "ø7", "9sus4": "7sus4 add 9", "maj9": "M9",
}  # fmt: skip
FOR_PYCHORD = {"mmaj7": "mM7"}


def in_music21(root: str, ending: str, bass: str) -> set[int]:
    figure = root.replace("b", "-") + FOR_MUSIC21.get(ending, ending) + bass.replace("b", "-")
    return {pitch.pitchClass for pitch in harmony.ChordSymbol(figure).pitches}


def in_pychord(root: str, ending: str, bass: str) -> set[int]:
    components = PychordChord(root + FOR_PYCHORD.get(ending, ending) + bass).components()
    return {Tone.from_text(name).pitch_class for name in components}


def written(chord: Chord) -> set[int]:
    """Pitch classes of a chord's written members and its bass note."""
    required = {tone.pitch_class for tone in chord.required}
    altered = {"b5", "#5", "b13"} & set(chord.alterations)
    members = [degree for degree in chord.kind.optional if not (altered and degree == "5")]
    others = {(chord.root.pitch_class + semitones_above(degree)) % 12 for degree in members}
    return required | others | {chord.bass.pitch_class}


def at(bass: str, wanted: set[int]) -> set[int]:
    return wanted | ({Tone.from_text(bass[1:]).pitch_class} if bass else set())


KEYS = (*keys(Mode.MAJOR), *keys(Mode.MINOR))


@pytest.mark.parametrize("ending", ENDINGS)
def test_names_have_the_pitches_that_pychord_gives_them(ending: str) -> None:
    for number, root in enumerate(ROOTS):
        key = KEYS[number % len(KEYS)]
        for bass in BASSES:
            chord = chord_of(numeral_named(root + ending + bass, key), key)
            assert written(chord) == at(bass, in_pychord(root, ending, bass)), (root, ending, bass, str(key))


@pytest.mark.parametrize("ending", ENDINGS)
def test_names_have_the_pitches_that_music21_gives_them(ending: str) -> None:
    for number, root in enumerate(ROOTS):
        key = KEYS[(number * 7) % len(KEYS)]
        chord = chord_of(numeral_named(root + ending, key), key)
        assert written(chord) == in_music21(root, ending, ""), (root, ending, str(key))


@given(
    root=st.sampled_from(ROOTS),
    ending=st.sampled_from(ENDINGS),
    bass=st.sampled_from(BASSES),
    key=st.sampled_from(KEYS),
    other=st.integers(0, 11),
)
def test_a_name_is_moved_as_its_key_is(root: str, ending: str, bass: str, key: Key, other: int) -> None:
    numeral = numeral_named(root + ending + bass, key)
    moved = Key.from_pitch_class(key.tonic.pitch_class + other, key.mode)
    expected = {(one + other) % 12 for one in at(bass, in_pychord(root, ending, bass))}
    assert written(chord_of(numeral, moved)) == expected
    assert Numeral.from_text(str(numeral)) == numeral


@pytest.mark.parametrize(
    ("name", "key", "numeral"),
    [
        ("Ebmaj7", "Eb", "Imaj7"),
        ("Abm6", "Eb", "iv6"),
        ("Db7", "Eb", "bVII7"),
        ("E7", "Eb", "bII7"),
        ("Bdim7", "Bb", "#i°7"),
        ("Am7b5", "Eb", "#ivø7"),
        ("A7", "Eb", "#IV7"),
        ("Ab", "C minor", "bVI"),
        ("B7", "C minor", "VII7"),
        ("Gb7", "E", "II7"),
        ("Dm7/G", "C", "ii7/5"),
        ("C/E", "C", "I/3"),
        ("G13(b9)", "C", "V13(b9)"),
        ("G7sus4", "C", "V7sus4"),
    ],
)
def test_a_name_is_the_numeral_that_a_musician_calls_it(name: str, key: str, numeral: str) -> None:
    assert str(numeral_named(name, Key.from_text(key))) == numeral


@pytest.mark.parametrize("name", ["", "c7", "H7", "Cx", "C7/X", "ii7"])
def test_what_is_no_chord_name_is_refused(name: str) -> None:
    with pytest.raises(NotationError):
        numeral_named(name, Key.from_text("C"))


def test_the_shipped_charts_chords_are_those_that_both_libraries_read() -> None:
    """Every chord of every chart, by the name that it has in the tune's key, as a reader would give it."""
    library = load_library([program_root()])[0]
    seen = set()
    for tune in library.tunes.values():
        assert tune.chart is not None
        for bar in [one.bar for last in (False, True) for one in chorus_bars(tune.chart, last=last)]:
            seen |= {(symbol, tune.key) for symbol in _symbols(bar, tune.key)}
    assert len(seen) > 60
    for symbol, key in seen:
        name, _, bass = symbol.partition("/") if "6/9" not in symbol else (symbol, "", "")
        root = name[:2] if name[1:2] in ("b", "#") else name[:1]
        ending = name.removeprefix(root).replace("(", "").replace(")", "").replace("°7", "dim7")
        own = written(chord_of(numeral_named(symbol, key), key))
        slash = f"/{bass}" if bass else ""
        if ending in ("6/9", "m6/9"):  # "m6/9" is a sixth chord over A to music21
            ending = {"6/9": "69", "m6/9": "m69"}[ending]
        assert own == at(slash, in_pychord(root, ending, "")), symbol
        if ending not in ("69", "m69"):
            assert own == at(slash, in_music21(root, ending, "")), symbol


def _symbols(bar: Bar, key: Key) -> list[str]:
    found = []
    for slot in bar.slots:
        assert isinstance(slot.chord, Numeral)
        found.append(chord_of(slot.chord, key).symbol)
    return found
