"""Chord diagrams in plain text: small boxes side by side, strings upright, the lowest on the left.

Over a box stand the chord and where it is struck, `x` over a string that does not sound and `o` over one that
rings open; beside it the fret of its top row, unless that begins at the nut; under it the fingers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from introit.arrange.score import Score
from introit.export.diagram import Diagram, diagrams
from introit.export.plain.signs import DRAWN, Signs
from introit.theory.hand import THUMB
from introit.units import TICKS_PER_QUARTER

_MARGIN, _GAP = 3, 2
"""Columns for the number of the top row, and between two boxes."""


def box_lines(score: Score, *, width: int, signs: Signs = DRAWN) -> list[str]:
    """All diagrams of a score in rows; empty where it has none.

    Args:
        score: what is drawn.
        width: columns of the terminal, from 80.
        signs: what they are made of.
    """
    told = [(_place(score, tick), diagram) for tick, diagram in diagrams(score)]
    if not told:
        return []
    words = max(max(len(signs.word(diagram.symbol)), len(place)) for place, diagram in told)
    cell = max(_MARGIN + 2 * told[0][1].strings - 1, words) + _GAP
    count = max(1, (width + _GAP) // cell)
    lines: list[str] = []
    for at in range(0, len(told), count):
        row = told[at : at + count]
        rows = max(diagram.rows for _, diagram in row)
        boxes = [box(diagram, place, rows=rows, signs=signs) for place, diagram in row]
        joined = ("".join(part.ljust(cell) for part in parts).rstrip() for parts in zip(*boxes, strict=True))
        lines += ["", *joined] if lines else joined
    return lines


def box(diagram: Diagram, place: str, *, rows: int, signs: Signs) -> list[str]:
    """One diagram, so many rows of frets high, with its name and its place in the music above it."""
    edge = signs.nut if diagram.first_fret == 1 else signs.edge
    top = edge[0] + edge[1] + (edge[2] + edge[1]) * (diagram.strings - 2) + edge[3]
    margin = " " * _MARGIN
    return [
        signs.word(diagram.symbol),
        place,
        margin + _over(diagram),
        margin + top,
        *(_beside(diagram, row) + _fret(diagram, diagram.first_fret + row, signs) for row in range(rows)),
        margin + _under(diagram),
    ]


def _place(score: Score, tick: int) -> str:
    plan = score.plan
    if tick >= plan.head_tick:
        return "head"
    bar, rest = divmod(tick, plan.bar_ticks)
    return f"bar {bar + 1} beat {rest / TICKS_PER_QUARTER + 1:g}"


def _columns(diagram: Diagram) -> Iterator[tuple[int, int]]:
    """Each string and its column, from the lowest."""
    for column, string in enumerate(range(diagram.strings, 0, -1)):
        yield string, 2 * column


def _written(diagram: Diagram, signs: Sequence[tuple[int, str]]) -> str:
    row = [" "] * (2 * diagram.strings - 1)
    columns = dict(_columns(diagram))
    for string, sign in signs:
        row[columns[string]] = sign
    return "".join(row)


def _over(diagram: Diagram) -> str:
    muted = [(string, "x") for string in diagram.muted]
    return _written(diagram, [*muted, *((string, "o") for string in diagram.open_strings)])


def _under(diagram: Diagram) -> str:
    return _written(
        diagram,
        [(dot.string, "T" if dot.finger == THUMB else str(dot.finger)) for dot in diagram.dots if dot.finger],
    )


def _beside(diagram: Diagram, row: int) -> str:
    number = str(diagram.first_fret) if row == 0 and diagram.first_fret > 1 else ""
    return number.rjust(_MARGIN - 1) + " "


def _fret(diagram: Diagram, fret: int, signs: Signs) -> str:
    row = [signs.string, " "] * diagram.strings
    columns = dict(_columns(diagram))
    barre = diagram.barre
    if barre is not None and barre.fret == fret:
        first, last = columns[barre.lowest], columns[barre.highest]
        for column in range(first, last + 1):
            row[column] = signs.barre if column % 2 else signs.crossed
    for dot in diagram.dots:
        if dot.fret == fret:
            row[columns[dot.string]] = signs.dot
    return "".join(row[:-1])
