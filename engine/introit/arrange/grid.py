"""A form's bars laid out in beats of the tune's meter, stretched for fast tempi and halved for slow ones."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import gcd
from typing import NamedTuple

from introit.arrange.form import ArrangeError
from introit.library.model import Bar, Form, HeadDominant, Intro
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

NORMAL, STRETCHED, HALVED = Fraction(1), Fraction(2), Fraction(1, 2)


class GridChord(NamedTuple):
    """A chord of the form and how many beats it lasts."""

    chord: Numeral | HeadDominant
    beats: int


class Grid(NamedTuple):
    """A form on the bar grid.

    Attributes:
        chords: in order; their beats add up to `bars` bars.
        bars: number of bars.
        scale: how many times longer each bar of the form lasts than it is written: 1, 2 or 1/2.
    """

    chords: tuple[GridChord, ...]
    bars: int
    scale: Fraction


def lay_out(intro: Intro, form: Form, *, meter: Meter, tempo: float) -> Grid:
    """Puts a form on the grid: as written, each chord twice as long, or half as long, as the tempo asks.

    Raises:
        ArrangeError: when a bar is divided in a way that the meter cannot hold.
    """
    if intro.stretch_above is not None and tempo > intro.stretch_above:
        return _grid(intro, form.bars, meter=meter, scale=STRETCHED)
    plain = _grid(intro, form.bars, meter=meter, scale=NORMAL)
    if intro.halve_below is not None and tempo < intro.halve_below:
        return _halved(plain, meter)
    return plain


def _grid(intro: Intro, bars: Sequence[Bar], *, meter: Meter, scale: Fraction) -> Grid:
    times = int(scale)
    chords: list[GridChord] = []
    for number, bar in enumerate(bars, start=1):
        lengths = _lengths([slot.share for slot in bar.slots], meter, times)
        if lengths is None:
            raise ArrangeError(
                f"intro {intro.id!r}, bar {number}: {bar.shares} shares do not fit {meter}; "
                f"allowed are 1, 2 or {meter.beats}"
            )
        chords += [GridChord(slot.chord, beats) for slot, beats in zip(bar.slots, lengths, strict=True)]
    return Grid(tuple(chords), len(bars) * times, scale)


def _lengths(shares: list[int], meter: Meter, times: int) -> list[int] | None:
    """Beats of each chord of a bar that lasts `times` bars; None when the shares do not fit the meter."""
    divisor = gcd(*shares)
    shares = [share // divisor for share in shares]
    total = sum(shares)
    if total == meter.beats:
        return [share * times for share in shares]
    if total == 1:
        return [meter.beats * times]
    if total == 2:  # 2+2, 2+1, 3+2; stretched, a bar each, since 4+2 in 3/4 would change in mid-bar
        return [meter.beats] * 2 if times == 2 else [meter.beats - meter.beats // 2, meter.beats // 2]
    return None


def _halved(grid: Grid, meter: Meter) -> Grid:
    """Each chord half as long; unchanged where a chord or the last bar would end between beats."""
    total = grid.bars * meter.beats
    if any(chord.beats % 2 for chord in grid.chords) or total // 2 % meter.beats or total % 2:
        return grid
    chords = tuple(GridChord(chord.chord, chord.beats // 2) for chord in grid.chords)
    return Grid(chords, grid.bars // 2, HALVED)
