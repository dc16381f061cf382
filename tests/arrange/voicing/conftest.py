"""Chords, wishes and boards for the voicings' tests."""

from __future__ import annotations

from typing import Any

import pytest

from introit.arrange.plan import PlannedChord
from introit.arrange.voicing.board import Board
from introit.arrange.voicing.material import Material, material_of
from introit.arrange.voicing.wish import Wish
from introit.theory.chord import Chord, chord_from_symbol, chord_of
from introit.theory.fretboard import Fretboard
from introit.theory.key import Key
from introit.theory.numeral import Numeral
from introit.theory.pitch import Tone
from introit.theory.plucking import Plucking

NUMERALS = (
    *("Imaj7", "Imaj9", "I6/9", "iii7", "iii11", "ii7", "ii9", "V7", "V9", "V13", "V13(b9)", "V7(b9,b13)"),
    *("V7alt", "VI7(b13)", "V7sus4", "V9sus4", "V7sus4(b9)", "iv6", "i6/9", "i(maj9)", "#ivø7", "bIII°7"),
    *("bIImaj7(#11)", "bII13(#11)", "bVII7", "bVImaj7/5", "iiø7/5", "iv6/5", "I", "vi", "V7(#5)"),
)


def planned(
    numeral: str, key: str = "C", pedal: str | None = None, following: str | None = None
) -> PlannedChord:
    read = Numeral.from_text(numeral)
    after = Numeral.from_text(following) if following else None
    chord = chord_of(read, Key.from_text(key), following=after)
    return PlannedChord(0, 960, read, chord, Tone.from_text(pedal) if pedal else None)


def from_symbol(symbol: str) -> PlannedChord:
    """A chord by its symbol, coloured as by itself."""
    return PlannedChord(0, 960, Numeral.from_text("I"), chord_from_symbol(symbol), None)


def material(symbol: str) -> Material:
    return material_of(from_symbol(symbol))


def names(chord: Chord, pitches: Any) -> list[str]:
    """Degrees of a chord's tones, as text; '?' for a pitch that is no tone of the chord."""
    by_class = {tone.pitch_class: tone.name for tone in (*chord.optional[::-1], *chord.required[::-1])}
    return [by_class.get(pitch % 12, "?") for pitch in pitches]


class Voice:
    """The makers above, for tests."""

    numerals = NUMERALS
    planned = staticmethod(planned)
    from_symbol = staticmethod(from_symbol)
    material = staticmethod(material)
    names = staticmethod(names)
    wish = staticmethod(Wish)
    board = staticmethod(Board)
    fingers = Board(Fretboard(), Plucking.FINGERS)
    pick = Board(Fretboard(), Plucking.PICK)
    keys = Board(None)
    with_bass = Wish(ceiling=77, floor=48)
    alone = Wish(ceiling=77, floor=40, bass_in_grip=True)


@pytest.fixture(scope="session")
def voice() -> type[Voice]:
    return Voice
