"""Every grip of a neck that could ring like bells, before any chord is asked: found once a neck, as tables.

Such a grip has four or five sounding strings and, on two neighbouring strings, two notes a half or whole step
apart with nothing between them; often the higher one lies on the lower string. Whether a hand can hold it is
not asked here.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations, product
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from introit.theory.fretboard import Fretboard
from introit.theory.grip import SILENT

COUNTS = (4, 5)
"""Sounding strings of a grip."""
WINDOW, WINDOW_WITH_OPEN = 5, 4
"""Frets that the stopped notes may cover: five suit only the higher positions, which is for the hand to say;
beside open strings, whose grips lie low, four."""
HIGHEST_POSITION = 12
"""Fret of the lowest stopped note at most: past it the comp leaves its register (judgement, no source)."""
MOST_OPEN = 2
_FORBIDDEN = (0, 13, 25, 37)
"""Semitones that no two of the notes lie apart: a doubled pitch, and the minor ninth with its octaves."""

Table = npt.NDArray[np.int16]


class Shapes(NamedTuple):
    """Grips, one a row.

    Attributes:
        frets: (n, strings) lowest string first; -1 is silent, 0 open.
        pitches: (n, count) MIDI notes, rising.
        classes: (n,) the pitch classes, one bit each.
        apart: (n,) strings that lie between neighbours in pitch, all pairs of the grip together.
        second: (n,) the lower note of the highest closed second.
    """

    frets: Table
    pitches: Table
    classes: Table
    apart: Table
    second: Table

    def of(self, rows: npt.NDArray[np.bool_]) -> Shapes:
        """Only the grips that are marked."""
        return Shapes(*(column[rows] for column in self))


def shapes(neck: Fretboard, count: int, open_strings: frozenset[int]) -> Shapes:
    """The grips of so many sounding strings.

    Args:
        neck: the guitar's.
        count: 4 or 5.
        open_strings: pitch classes that may ring on open strings.
    """
    rows = [row for row, pitch in enumerate(neck.open_pitches) if pitch % 12 in open_strings]
    tables = [
        _shapes(neck, count, ringing) for most in range(MOST_OPEN + 1) for ringing in combinations(rows, most)
    ]
    return joined(tables)


def joined(tables: list[Shapes]) -> Shapes:
    """Several tables of the same count of strings as one."""
    if len(tables) == 1:
        return tables[0]
    return Shapes(*(np.concatenate(columns) for columns in zip(*tables, strict=True)))


@lru_cache(maxsize=256)
def _shapes(neck: Fretboard, count: int, ringing: tuple[int, ...]) -> Shapes:
    """The grips in which exactly the given rows ring open."""
    others = [row for row in range(neck.strings) if row not in ringing]
    return joined([_on_rows(neck, rows, ringing) for rows in combinations(others, count - len(ringing))])


def _on_rows(neck: Fretboard, stopped: tuple[int, ...], ringing: tuple[int, ...]) -> Shapes:
    """The grips that stop just these rows, in every position, and let those ring open."""
    rows = sorted((*stopped, *ringing))
    shape = _offsets(len(stopped), WINDOW_WITH_OPEN if ringing else WINDOW)
    positions = np.arange(1, min(HIGHEST_POSITION, neck.frets - WINDOW) + 1, dtype=np.int16)
    open_pitches = np.array([neck.open_pitches[row] for row in rows], dtype=np.int16)
    if not ringing:  # their intervals are the same in every position
        shape = shape[_is_clear(shape + open_pitches) & (_seconds(shape + open_pitches, rows) >= 0)]
    frets = np.zeros((len(positions) * len(shape), len(rows)), dtype=np.int16)
    moved = (shape + positions[:, None, None]).reshape(-1, len(stopped))
    frets[:, [rows.index(row) for row in stopped]] = moved
    if ringing:
        frets = frets[_is_clear(frets + open_pitches)]
    pitches = frets + open_pitches
    seconds = _seconds(pitches, rows)
    return _table(frets, pitches, seconds, rows=rows, strings=neck.strings).of(seconds >= 0)


def _table(frets: Table, pitches: Table, seconds: Table, *, rows: list[int], strings: int) -> Shapes:
    whole = np.full((len(frets), strings), SILENT, dtype=np.int16)
    whole[:, rows] = frets
    apart = np.abs(np.diff(np.array(rows, dtype=np.int16)[np.argsort(pitches, axis=1)], axis=1)) - 1
    return Shapes(
        frets=whole,
        pitches=np.sort(pitches, axis=1),
        classes=np.bitwise_or.reduce(1 << (pitches % 12), axis=1).astype(np.int16),
        apart=apart.sum(axis=1).astype(np.int16),
        second=seconds,
    )


@lru_cache(maxsize=32)
def _offsets(strings: int, window: int) -> Table:
    """Frets above the position, for each string, in every way that has one of them in the position itself."""
    ways = [way for way in product(range(window), repeat=strings) if min(way) == 0]
    return np.array(ways, dtype=np.int16).reshape(len(ways), strings)


def _is_clear(pitches: Table) -> npt.NDArray[np.bool_]:
    """Whether no two notes of a grip double each other or lie a minor ninth apart."""
    clear = np.ones(len(pitches), dtype=bool)
    for one, other in combinations(range(pitches.shape[1]), 2):
        clear &= ~np.isin(np.abs(pitches[:, one] - pitches[:, other]), _FORBIDDEN)
    return clear


def _seconds(pitches: Table, rows: list[int]) -> Table:
    """The lower note of the highest closed second across neighbouring strings; -1 where there is none."""
    highest = np.full(len(pitches), -1, dtype=np.int16)
    for one in range(len(rows) - 1):
        if rows[one + 1] - rows[one] == 1:
            low = pitches[:, one : one + 2].min(axis=1)
            apart = np.abs(pitches[:, one] - pitches[:, one + 1])
            between = (pitches == low[:, None] + 1).any(axis=1) & (apart == 2)
            closed = ((apart == 1) | (apart == 2)) & ~between
            highest = np.where(closed, np.maximum(highest, low), highest)
    return highest
