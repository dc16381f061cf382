"""Harmony as an intro file writes it: numerals in bars.

`|` separates bars, and the end of a line ends a bar too. A bar holds one chord, two (2+2; 2+1 in 3/4; 3+2
in 5/4), or one a beat, where `.` lets the chord before it go on: `ii7 . . V7`. A bar that is only `%` repeats
the one before. `H` is a dominant of the head's first chord, `Hsus` its sus.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from introit.errors import NotationError
from introit.library.bars import Bar, HeadDominant, Slot
from introit.library.fields import Reader
from introit.library.lines import Piece, music_lines, split, words
from introit.library.nodes import Node
from introit.library.reading import Reading
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

HEAD_DOMINANTS = ("H", "Hsus")
MOST_BARS = 64

ReadChord = Callable[[Piece, Reading], Numeral | HeadDominant | None]
"""Reads one chord, or reports what is wrong with it and gives None."""


def harmony_for(meters: Sequence[Meter]) -> Reader[tuple[Bar, ...]]:
    """A reader of harmony whose bars must add up in every one of the meters."""

    def read(node: Node, reading: Reading) -> tuple[Bar, ...] | None:
        lines = music_lines(node, reading, needed="harmony")
        if lines is None:
            return None
        before = len(reading.problems)
        bars: list[Bar | None] = []
        for piece in _bar_texts(lines, reading):
            number = len(bars) + 1
            bars.append(read_bar(piece, bars, number=number, meters=meters, reading=reading))
        if len(bars) > MOST_BARS:
            reading.report(node.place, "bad-bar", f"{len(bars)} bars; an intro has at most {MOST_BARS}")
        whole = tuple(bar for bar in bars if bar is not None)
        return whole if len(reading.problems) == before else None

    return read


def _bar_texts(lines: Sequence[Piece], reading: Reading) -> list[Piece]:
    """The bars' texts; a bar line at either end of a line is drawn for the eye and begins no bar."""
    bars: list[Piece] = []
    for line in lines:
        parts = split(line, "|")
        inner = parts[not parts[0].text : len(parts) - (len(parts) > 1 and not parts[-1].text)]
        for part in inner:
            if part.text:
                bars.append(part)
            else:
                place = reading.place(part.offset)
                reading.report(
                    place, "bad-bar", "a bar with nothing in it", "Write % to repeat the bar before."
                )
    return bars


def read_bar(
    piece: Piece,
    before: Sequence[Bar | None],
    *,
    number: int,
    meters: Sequence[Meter],
    reading: Reading,
    read_chord: ReadChord | None = None,
) -> Bar | None:
    """The bar that a piece of text is, or None, with its mistakes reported.

    Args:
        piece: what stands between two bar lines.
        before: the bars before it, which `%` looks at; None for one with mistakes.
        number: from 1, for messages.
        meters: it must add up in each of them.
        reading: the file.
        read_chord: reads its chords; numerals and `H` when left out.
    """
    if piece.text == "%":
        if before:
            return before[-1]
        reading.report(reading.place(piece.offset), "bad-bar", "% repeats the bar before, and there is none")
        return None
    tokens = words(piece)
    fits = _adds_up(piece, len(tokens), meters=meters, number=number, reading=reading)
    slots: list[Slot] = []
    readable = True
    for token in tokens:
        if token.text == "." and slots:
            slots[-1] = Slot(slots[-1].chord, slots[-1].share + 1)
        elif (chord := _chord(token, reading, read_chord or numeral_at)) is not None:
            slots.append(Slot(chord))
        else:
            readable = False
    return Bar(tuple(slots)) if fits and readable else None


def _adds_up(piece: Piece, count: int, *, meters: Sequence[Meter], number: int, reading: Reading) -> bool:
    wrong = [meter for meter in meters if count not in {1, 2, meter.beats}]
    for meter in wrong[:1]:
        message = f"bar {number} holds {count} chords or dots; in {meter} a bar holds 1, 2 or {meter.beats}"
        hint = "" if len(meters) == len(wrong) else "Or take the meter out of `meters`."
        reading.report(reading.place(piece.offset), "bad-bar", message, hint)
    return not wrong


def _chord(token: Piece, reading: Reading, read: ReadChord) -> Numeral | HeadDominant | None:
    if token.text in HEAD_DOMINANTS:
        return HeadDominant(token.text)
    if set(token.text) == {"."}:
        message = "a dot lets the chord before it go on; it never begins a bar, and dots have spaces between"
        reading.report(reading.place(token.offset), "bad-bar", message)
        return None
    return read(token, reading)


def numeral_at(token: Piece, reading: Reading) -> Numeral | None:
    """The numeral that a piece of text is, or None, with the offending character reported."""
    try:
        return Numeral.from_text(token.text)
    except NotationError as error:
        place = reading.place(token.offset + min(error.position, len(token.text) - 1))
        reading.report(place, "bad-numeral", f"{token.text!r}: {error.reason}")
        return None
