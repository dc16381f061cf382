"""A piano roll in plain text: a row for each pitch, columns of time, a letter for each part.

A note is the letter of its part and a line for as long as it sounds. A star is two parts on one pitch. Rows
in which nothing happens are left out where several lie together.
"""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.score import BASS, CLICK, COMP, CUE, MELODY, PEDAL, RIDE, Score, ScoreNote
from introit.export.plain.ruler import MOST_BARS, Ruler, bar_labels, bars_of, chord_labels, ruled
from introit.export.plain.signs import DRAWN, Signs
from introit.performance import PARTS
from introit.theory.key import Key, Mode

LETTERS = {MELODY: "M", COMP: "C", BASS: "B", PEDAL: "P", RIDE: "x"}
"""What each part is written with."""
BOTH = "*"
_CELLS = (8, 6, 4, 3, 2)
"""Columns of a beat, the easiest to read first: 2 is an eighth each, 3 a triplet each."""
_MARGIN, _LEFT_OUT, _LEFT_OUT_SIGN = 5, 2, ":"
"""Columns of the pitch's name with its bar line; empty rows from which on they are left out."""


def roll_lines(score: Score, *, width: int, signs: Signs = DRAWN) -> list[str]:
    """The piano roll of all parts of a score, with the light time in a row under it.

    Args:
        score: what is drawn.
        width: columns of the terminal, from 80.
        signs: what it is made of.
    """
    pitched = [note for note in score.notes if note.part not in {RIDE, CLICK, CUE}]
    drums = [note for note in score.notes if note.part == RIDE]
    if not pitched:
        return []
    bars = bars_of(score)
    ruler = _ruler(score, bars, width)
    symbols, numerals = chord_labels(score, bars, signs)
    lines = [legend(score)]
    for line in ruler.lines:
        here = [note for note in pitched if _sounds_on(ruler, note, line)]
        lines += ["", *ruler.words(bar_labels(score, bars), line, width)]
        lines += ruler.words(symbols, line, width)
        lines += _pitches(here, score.plan.key, ruler, line, signs)
        if drums:
            strokes = {
                ruler.column(note.onset): LETTERS[RIDE] for note in drums if _begins_on(ruler, note, line)
            }
            lines.append(_row("ride", strokes, ruler, line, signs))
        lines.append(ruler.beat_numbers(line))
        lines += ruler.words(numerals, line, width)
    return lines


def legend(score: Score) -> str:
    """What the letters mean, for the parts that a score has."""
    heard = sorted({note.part for note in score.notes} & set(LETTERS))
    return ", ".join(f"{LETTERS[part]} {PARTS[part]}" for part in heard) + f", {BOTH} two parts on one pitch"


def _ruler(score: Score, bars: int, width: int) -> Ruler:
    onsets = sorted({note.onset for note in score.notes if note.part in LETTERS})
    written = [onset for onset in onsets if not onset % 80]  # what is off every grid, a grace, has no column

    return ruled(
        score,
        bars=bars,
        width=width,
        margin=_MARGIN,
        lead=0,
        beats_wide=_CELLS,
        wanted=(lambda ruler: ruler.fits(written),),
        most_bars=2 * MOST_BARS,
    )


def _begins_on(ruler: Ruler, note: ScoreNote, line: int) -> bool:
    return ruler.line_of(note.onset) == line


def _sounds_on(ruler: Ruler, note: ScoreNote, line: int) -> bool:
    return ruler.line_of(note.onset) <= line <= ruler.line_of(note.end - 1)


def _pitches(notes: Sequence[ScoreNote], key: Key, ruler: Ruler, line: int, signs: Signs) -> list[str]:
    rows: dict[int, dict[int, str]] = {}
    for note in sorted(notes, key=lambda note: (note.onset, -note.part)):
        row = rows.setdefault(note.pitch, {})
        first = ruler.bars_on(line)[0]
        start = ruler.column(note.onset) if _begins_on(ruler, note, line) else ruler.start(first)
        end = ruler.column(note.end - 1) if ruler.line_of(note.end - 1) == line else ruler.width(line) - 2
        for column in range(start, end + 1):
            row.setdefault(column, signs.held)
        if _begins_on(ruler, note, line):
            letter = LETTERS[note.part]
            row[start] = letter if row[start] in {signs.held, letter} else BOTH
    lines: list[str] = []
    highest, lowest = max(rows, default=0), min(rows, default=1)
    empty: list[str] = []
    for pitch in range(highest, lowest - 1, -1):
        drawn = _row(_name(pitch, key), rows.get(pitch, {}), ruler, line, signs)
        if pitch not in rows:
            empty.append(drawn)
            continue
        lines += empty if len(empty) < _LEFT_OUT else [_row(_LEFT_OUT_SIGN, {}, ruler, line, signs)]
        lines.append(drawn)
        empty = []
    return lines


def _row(name: str, cells: dict[int, str], ruler: Ruler, line: int, signs: Signs) -> str:
    row = list(name.rjust(ruler.margin - 1) + signs.bar + " " * (ruler.width(line) - ruler.margin))
    for column, sign in cells.items():
        row[column] = sign
    for bar in ruler.bars_on(line):
        end = ruler.start(bar) + ruler.bar - 1
        row[end] = signs.bar if row[end] == " " else row[end]
    return "".join(row)


def _name(pitch: int, key: Key) -> str:
    """A pitch by its name in the key, else with the key's own kind of accidental; middle C is C4."""
    names = Key.from_pitch_class(pitch, Mode.MAJOR).tonic.names()
    sharps = key.signature > 0
    tone = min(names, key=lambda name: (not key.holds(name), abs(name.alter), (name.alter > 0) != sharps))
    return f"{tone}{(pitch - tone.alter) // 12 - 1}"
