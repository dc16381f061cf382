"""Readers of single musical values: keys, meters, numerals, tempi, MIDI notes."""

from __future__ import annotations

import re

from introit.errors import NotationError
from introit.library.fields import number, scalar, span
from introit.library.harmony import numeral_at
from introit.library.lines import Piece
from introit.library.nodes import Node, Scalar
from introit.library.reading import Reading, shown
from introit.library.traps import report_cut
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.units import TEMPO_MAX, TEMPO_MIN

FOUR_FOUR = Meter(4)
C_MAJOR = Key.from_text("C")
TONIC = Numeral.from_text("I")

_NOTE = re.compile(r"([A-Ga-g])([b#]?)(-?\d)")
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_KEY_DEGREE = re.compile(r"[b#]?[1-7]")
_HEAD = re.compile(r"[b#]?(?:[IV]+|[iv]+)")

tempo = number(TEMPO_MIN, TEMPO_MAX, unit="beats a minute")
"""A reader of a tempo in quarter notes a minute."""
tempo_span = span(TEMPO_MIN, TEMPO_MAX, unit="beats a minute")
"""A reader of a lowest and a highest tempo."""


def key(node: Node, reading: Reading) -> Key | None:
    """A key such as `Bb` or `C# minor`."""
    value = _value(node, reading, "a key, such as Bb or C# minor,")
    if value is None:
        return None
    try:
        return Key.from_text(value.text)
    except NotationError as error:
        reading.report(value.place, "bad-key", f"{shown(value.text)}: {error.reason}")
        return None


def meter(node: Node, reading: Reading) -> Meter | None:
    """A meter such as `4/4`."""
    value = _value(node, reading, "a meter, such as 4/4,")
    if value is None:
        return None
    try:
        return Meter.from_text(value.text)
    except NotationError as error:
        reading.report(value.place, "bad-meter", f"{shown(value.text)}: {error.reason}")
        return None


def numeral(node: Node, reading: Reading) -> Numeral | None:
    """A Roman numeral such as `ii7`."""
    value = _value(node, reading, "a Roman numeral, such as ii7,")
    if value is None:
        return None
    inside = value.start + (value.style == "quoted")
    return numeral_at(Piece(value.text.strip(), inside), reading)


def head(node: Node, reading: Reading) -> str | None:
    """The head's first chord by root and mode alone: `I`, `ii`, `IV`, `bVI`."""
    found = numeral(node, reading)
    if found is None:
        return None
    if _HEAD.fullmatch(str(found)):
        return str(found)
    plain = _HEAD.match(str(found))
    hint = f"Write {plain.group()}." if plain else ""
    message = f"{shown(str(found))}: here a first chord is named by its numeral alone, such as ii or IV"
    reading.report(node.place, "bad-numeral", message, hint)
    return None


def key_degree(node: Node, reading: Reading) -> str | None:
    """A degree of the key, such as `5` or `b3`."""
    value = scalar(node, reading, needed="a degree of the key, such as 5")
    if value is None:
        return None
    try:
        return key_degree_from(value.text)
    except NotationError as error:
        reading.report(value.place, "not-allowed", f"{shown(value.text)} is {error.reason}")
        return None


def key_degree_from(text: str) -> str:
    """Reads a degree of the key.

    Raises:
        NotationError: if it is none.
    """
    if _KEY_DEGREE.fullmatch(text):
        return text
    raise NotationError(text, 0, "no degree of the key; allowed is 1 to 7, with b or # where altered")


def note(node: Node, reading: Reading) -> int | None:
    """A MIDI note by name (C4 is middle C, 60) or number, 0 to 127."""
    value = _value(node, reading, "a note, such as C1 (middle C is C4) or a number from 0 to 127,")
    if value is None:
        return None
    inside = value.start + (value.style == "quoted")
    return note_at(Piece(value.text.strip(), inside), reading)


def note_at(piece: Piece, reading: Reading) -> int | None:
    """A MIDI note, by name or number, in a piece of the file's text."""
    text, place = piece.text, reading.place(piece.offset)
    found = _NOTE.fullmatch(text)
    if found:
        alter = {"": 0, "b": -1, "#": 1}[found[2]]
        pitch = _SEMITONES[found[1].upper()] + alter + 12 * (int(found[3]) + 1)
    elif text.isascii() and text.isdigit():
        pitch = int(text[:6])
    else:
        message = (
            f"{shown(text)} is no note; write a name such as C1 (middle C is C4) or a number from 0 to 127"
        )
        reading.report(place, "wrong-type", message)
        return None
    if 0 <= pitch <= 127:
        return pitch
    message = f"{shown(text)} is out of range; MIDI notes go from C-1 (0) to G9 (127)"
    reading.report(place, "out-of-range", message)
    return None


def note_name(pitch: int) -> str:
    """A MIDI note's name as `note_at` reads it, such as `Eb2`; black keys are flats."""
    return f"{_NAMES[pitch % 12]}{pitch // 12 - 1}"


def _value(node: Node, reading: Reading, needed: str) -> Scalar | None:
    value = scalar(node, reading, needed=needed.rstrip(","))
    if value is None or report_cut(reading, value, music=False):
        return None
    return value
