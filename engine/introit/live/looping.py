"""Bars that go round: a performance as one would play some of its bars over and over. Pure."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain

from introit.performance import Performance, PlayedNote
from introit.units import TICKS_PER_QUARTER

_NEAR = TICKS_PER_QUARTER // 8
"""Ticks before a bar line within which a note that lasts over it belongs to it: players drift."""
_SHORTEST = 60
"""Ticks that a note lasts at least on either side of a bar line on which it is parted (a 64th)."""


def bars_of(performance: Performance, first: int, last: int) -> tuple[int, int] | None:
    """First tick and end of bars, from 1; None where the intro has not all of them. All of it for 0, 0."""
    bars = performance.head_tick // performance.bar_ticks
    if (first, last) == (0, 0):
        first, last = 1, bars
    if not 1 <= first <= last <= bars:
        return None
    return (first - 1) * performance.bar_ticks, last * performance.bar_ticks


def looped(performance: Performance, ticks: tuple[int, int]) -> Performance:
    """The performance from some of its bars on, which go round until the nod; then it goes on to the head.

    Nothing is counted off, and time waits nowhere. What lasts over the first or the last bar line is struck
    there again, for who comes from elsewhere has not heard it.

    Args:
        performance: an intro.
        ticks: first tick and end of the bars.
    """
    notes = performance.notes
    for line in ticks:
        if 0 < line < performance.head_tick:
            notes = _parted(notes, line)
    return replace(
        performance,
        start_tick=ticks[0],
        vamp=ticks,
        exits=(),
        once_more=False,
        waits=(),
        out_of_time=False,
        tapped=False,
        tapped_on=False,
        rest=0,
        notes=tuple(sorted(notes)),
    )


def _parted(notes: tuple[PlayedNote, ...], line: int) -> tuple[PlayedNote, ...]:
    """The notes, those that last over a bar line parted on it, unless their part begins anew there."""
    on_it = tuple(
        note._replace(onset=line)
        if line - _NEAR <= note.onset < line < note.end - _SHORTEST and note.harmony_tick < line
        else note
        for note in notes
    )
    struck = {note.part for note in on_it if line <= note.onset < line + _NEAR}
    return tuple(chain.from_iterable(_either_side(note, line, struck) for note in on_it))


def _either_side(note: PlayedNote, line: int, struck: set[int]) -> tuple[PlayedNote, ...]:
    lasts = note.onset < line < note.end - _SHORTEST and note.harmony_tick < line
    if not lasts or note.part in struck:
        return (note,)
    return note._replace(end=line), note._replace(onset=line)
