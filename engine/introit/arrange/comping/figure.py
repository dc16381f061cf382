"""A comping rhythm as a vocabulary: its written bars, moved by eighths, and thinned.

The eight placements of the Charleston, one on each eighth of the bar, are taught as one figure (Modern
Drummer, The Charleston); no figure is kept unchanged through a piece (The Jazz Chameleon, The Charleston).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from introit.library.model import CompingRhythm, Hit
from introit.units import TICKS_PER_QUARTER, ticks

EIGHTH = TICKS_PER_QUARTER // 2
"""Comping lies on the grid of eighths; a feel swings them."""
SHORT = EIGHTH
"""A short hit: half a beat, in ticks."""
_HELD_SLOTS, _HELD_SLOTS_IN_THREE = 3, 2
_THREE = 6
"""Eighths in a bar of three, whose chords mostly change on two or on three."""
_MOST_MOVED = 3
"""A bar with more hits than this is no figure that could be moved about the bar."""

WRITTEN, MOVED, THINNED, CARRIED, AIR = range(5)
"""Where a bar comes from: as written; moved; with a hit less; the end of a figure that was begun in the bar
before; without hits."""


class Cell(NamedTuple):
    """A hit of a bar.

    Attributes:
        slot: eighths from the bar's start.
        length: ticks that it would sound for if nothing ended it before.
        push: whether it sounds the chord to come.
        accent: whether it is played harder.
    """

    slot: int
    length: int
    push: bool = False
    accent: bool = False


class Figure(NamedTuple):
    """One bar that a rhythm offers.

    Attributes:
        cells: by slot, rising.
        kind: where it comes from, such as `MOVED`.
        turn: for a written bar, which of the rhythm's it is; else -1.
        tail: cells of the same figure that fall into the bar after it.
        after: for `CARRIED`, the tail that it is.
    """

    cells: tuple[Cell, ...]
    kind: int
    turn: int = -1
    tail: tuple[Cell, ...] = ()
    after: tuple[Cell, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Vocabulary:
    """What a rhythm offers. Compared by identity: there is one for each rhythm.

    Attributes:
        figures: without repetitions; the written bars alone where the rhythm is steady.
        slots: eighths in a bar.
        bars: how many the rhythm has.
        steady: whether it is repeated faithfully.
    """

    figures: tuple[Figure, ...]
    slots: int
    bars: int
    steady: bool


@lru_cache(maxsize=256)
def vocabulary_of(rhythm: CompingRhythm) -> Vocabulary:
    """The vocabulary of a rhythm."""
    slots = rhythm.meters[0].beats * 2
    bars = [tuple(_cell(hit) for hit in bar) for bar in rhythm.bars]
    written = [Figure(cells, WRITTEN, turn) for turn, cells in enumerate(bars)]
    if rhythm.steady:
        return Vocabulary(tuple(written), slots, len(bars), steady=True)
    found: dict[tuple[object, ...], Figure] = {}
    for figure in (*written, *_varied(bars, slots), Figure((), AIR)):
        by = (tuple(cell.slot for cell in figure.cells), figure.tail, figure.after)
        if figure.kind == WRITTEN or by not in found:
            found.setdefault((*by, figure.turn), figure)
            found.setdefault(by, figure)
    return Vocabulary(tuple(dict.fromkeys(found.values())), slots, len(bars), steady=False)


def held_slots(slots: int) -> int:
    """Eighths that a hit lasts at least to be held: a dotted quarter, in a bar of three a quarter.

    Args:
        slots: eighths in a bar.
    """
    return _HELD_SLOTS_IN_THREE if slots <= _THREE else _HELD_SLOTS


def moved(cells: tuple[Cell, ...], eighths: int, slots: int) -> tuple[tuple[Cell, ...], tuple[Cell, ...]]:
    """A figure begun so many eighths after the bar line: what falls in the bar, and in the one after it.

    Args:
        cells: the figure.
        eighths: where its first hit falls, 0 to `slots` - 1.
        slots: eighths in a bar.
    """
    away = eighths - cells[0].slot
    shifted = [cell._replace(slot=cell.slot + away, push=False) for cell in cells]
    here = tuple(cell for cell in shifted if cell.slot < slots)
    there = tuple(cell._replace(slot=cell.slot - slots) for cell in shifted if cell.slot >= slots)
    return here, there


def _varied(bars: list[tuple[Cell, ...]], slots: int) -> Iterator[Figure]:
    for cells in bars:
        if 0 < len(cells) <= _MOST_MOVED:
            yield from _moved_about(cells, slots)
        for left_out in range(len(cells) if len(cells) > 1 else 0):
            yield Figure((*cells[:left_out], *cells[left_out + 1 :]), THINNED)


def _moved_about(cells: tuple[Cell, ...], slots: int) -> Iterator[Figure]:
    for eighths in range(slots):
        here, there = moved(cells, eighths, slots)
        if eighths != cells[0].slot:
            yield Figure(here, MOVED, tail=there)
        if there:
            yield Figure(there, CARRIED, after=there)


def _cell(hit: Hit) -> Cell:
    return Cell(int(hit.position * 2), ticks(hit.length), hit.push, hit.accent)
