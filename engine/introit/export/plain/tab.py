r"""Tab in plain text: a line for each string, fret numbers where they fall in the bar, chord names above.

The signs are the trade's own: `4/5` slides up, `5\4` down, `4h5` hammers on, `5p4` pulls off. A grace note
is written right before the note that it leads to.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

from introit.arrange.score import Score, ScoreNote, Touch
from introit.export.plain.ruler import Label, Ruler, bar_labels, bars_of, chord_labels, ruled
from introit.export.plain.signs import DRAWN, Signs
from introit.theory.fretboard import Fretboard

_BEATS_WIDE = (8, 6, 4, 3, 12, 18)
"""Columns of a beat, the easiest to read first; more than 8 only where time is divided into little pieces."""
_NOTE_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_MIDDLE_C = 60


class TabNote(NamedTuple):
    """A fret number.

    Attributes:
        onset: tick at which it stands.
        string: 1 is the highest.
        text: the fret, with the grace note before it.
        grace: how much of the text stands before the onset.
    """

    onset: int
    string: int
    text: str
    grace: int = 0


def has_tab(score: Score) -> bool:
    """Whether anything of a score lies on a guitar."""
    return any(note.string is not None for note in score.notes)


def tab_notes(score: Score) -> list[TabNote]:
    """What stands in the tab, in order: every note that lies on the neck."""
    placed = [note for note in score.notes if note.string is not None]
    main = {(note.onset, note.string): note for note in placed if note.touch is not Touch.ORNAMENT}
    graces: dict[tuple[int, int | None], ScoreNote] = {}
    alone: list[ScoreNote] = []
    for note in placed:
        if note.touch is Touch.ORNAMENT:
            if (note.end, note.string) in main:
                graces[note.end, note.string] = note
            else:
                alone.append(note)
    found = [_tab_note(note, graces.get((note.onset, note.string))) for note in main.values()]
    return sorted([*found, *(_tab_note(note, None) for note in alone)])


def tab_lines(score: Score, *, width: int, signs: Signs = DRAWN) -> list[str]:
    """The tab of a score, four bars a line where they fit; empty where nothing lies on a guitar.

    Args:
        score: what is drawn.
        width: columns of the terminal, from 80.
        signs: how chord signs are written; the tab itself is typed.
    """
    notes = tab_notes(score)
    if not notes:
        return []
    neck = score.scene.stage.fretboard
    names = string_names(neck)
    bars = bars_of(score)
    symbols, numerals = chord_labels(score, bars, signs)
    ruler = _ruler(score, notes, rows=(symbols, numerals), bars=bars, width=width, margin=_margin(names))
    lines: list[str] = []
    for line in ruler.lines:
        lines += ruler.words(bar_labels(score, bars), line, width)
        lines += ruler.words(symbols, line, width)
        lines += _strings(notes, names, ruler, line)
        lines.append(ruler.beat_numbers(line))
        lines += [*ruler.words(numerals, line, width), ""]
    return lines[:-1]


def string_names(neck: Fretboard) -> list[str]:
    """The strings' notes from the highest; what lies above middle C is small, as players write it."""
    names = [(_NOTE_NAMES[pitch % 12], pitch) for pitch in reversed(neck.tuning)]
    return [name.lower() if pitch > _MIDDLE_C else name for name, pitch in names]


def _margin(names: Iterable[str]) -> int:
    return max(map(len, names)) + 1


def _tab_note(note: ScoreNote, grace: ScoreNote | None) -> TabNote:
    before = "" if grace is None else f"{grace.fret}{_leads(grace, note)}"
    return TabNote(note.onset, note.string or 0, f"{before}{note.fret}", len(before))


def _leads(grace: ScoreNote, note: ScoreNote) -> str:
    """Slid where the same finger plays both, else hammered on or pulled off."""
    up = (grace.fret or 0) < (note.fret or 0)
    if grace.finger == note.finger:
        return "/" if up else "\\"
    return "h" if up else "p"


def _ruler(
    score: Score,
    notes: Sequence[TabNote],
    *,
    rows: Sequence[Sequence[Label]],
    bars: int,
    width: int,
    margin: int,
) -> Ruler:
    on_string: dict[int, list[TabNote]] = defaultdict(list)
    for note in notes:
        on_string[note.string].append(note)
    neighbours = [pair for own in on_string.values() for pair in pairwise(own)]
    onsets = sorted({note.onset for note in notes})
    bar_ticks = score.plan.bar_ticks
    lead = max([1, *(note.grace + 1 for note in notes if note.grace and not note.onset % bar_ticks)])

    def apart(ruler: Ruler) -> bool:
        """Whether numbers on a string do not touch."""
        return all(_gap(ruler, one, other) > 0 for one, other in neighbours)

    return ruled(
        score,
        bars=bars,
        width=width,
        margin=margin,
        lead=lead,
        beats_wide=_BEATS_WIDE,
        wanted=(lambda ruler: ruler.fits(onsets), apart),
        rows=rows,
    )


def _gap(ruler: Ruler, one: TabNote, other: TabNote) -> int:
    """Columns between two numbers on a string; 1 where they stand on different lines."""
    if ruler.line_of(one.onset) != ruler.line_of(other.onset):
        return 1
    end = ruler.column(one.onset) + len(one.text) - one.grace
    return ruler.column(other.onset) - other.grace - end


def _strings(notes: Sequence[TabNote], names: Sequence[str], ruler: Ruler, line: int) -> list[str]:
    rows = []
    for string, name in enumerate(names, start=1):
        row = list(name.ljust(ruler.margin - 1) + "|" + "-" * (ruler.width(line) - ruler.margin))
        for bar in ruler.bars_on(line):
            row[ruler.start(bar) + ruler.bar - 1] = "|"
        for note in notes:
            if note.string == string and ruler.line_of(note.onset) == line:
                column = ruler.column(note.onset) - note.grace
                row[column : column + len(note.text)] = note.text
        rows.append("".join(row))
    return rows
