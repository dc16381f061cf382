"""Short figures of three or four chord members at the head of a bar; every other one ends otherwise."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from introit.arrange.textures.crown import Crown
from introit.arrange.textures.members import members, rungs
from introit.arrange.textures.room import BEAT
from introit.theory.chord import Chord

LOWEST, HIGHEST = 64, 79
"""E4 to G5."""
ON_THE_GRIP = 77
"""F5, where one guitar plays it: over that no grip is in reach below."""
_EMERGENCY = 84
_UNDER_HIGHEST = 4
"""Semitones under the highest note allowed, about which a figure lies."""
_HEADS = ((0, 1, 2), (2, 1, 0), (1, 2, 0), (0, 2, 1))
"""How a figure begins: members of the chord, counted up from the lowest of these. Judgement, no source."""
_OFF_CENTRE, _WEAK, _LEAP, _REPEATED = 0.15, 1.0, 0.25, 4.0
_FREE_LEAP, _WIDEST = 4, 9
_LONG_LEAP = 3.0
_HIGHER = 3
"""Semitones by which a figure that finds no room goes higher."""


@lru_cache(maxsize=16384)
def call_on(
    stretches: tuple[tuple[Chord, int], ...],
    on_beat: tuple[bool, ...],
    *,
    shape: int,
    answered: bool,
    after: int,
    high: int,
    crown: Crown | None = None,
    spent: int | None = None,
) -> tuple[int, ...]:
    """The pitches of a figure; empty where there is none.

    Args:
        stretches: chords, each with how many of the figure's 3 or 4 notes it lies under.
        on_beat: which of its notes fall on a beat: there a chord tone is best.
        shape: which contour, any whole number.
        answered: True for every other figure: its last note goes the other way.
        after: first MIDI note of the figure before; 0 for none.
        high: highest MIDI note, by preference.
        crown: asked of the figure with the intro's highest note: to reach it in its place, it may begin as
            another one does.
        spent: pitch class on which it does not end: the tune is to begin with it; None for none.
    """
    chords = tuple(chord for chord, count in stretches for _ in range(count))
    for highest in range(high, _EMERGENCY + _HIGHER, _HIGHER):
        figures = _figures(chords, shape=shape, answered=answered, high=highest, crown=crown, spent=spent)
        if figures:
            centre = highest - _UNDER_HIGHEST
            return min(
                figures, key=lambda one: (_price(one.plain, chords, on_beat, after=after, centre=centre), one)
            ).said
    return ()


class _Figure(NamedTuple):
    """A figure as it would end by itself, and as it is said: with that end, or the other one."""

    plain: tuple[int, ...]
    said: tuple[int, ...]


def _figures(
    chords: tuple[Chord, ...],
    *,
    shape: int,
    answered: bool,
    high: int,
    crown: Crown | None,
    spent: int | None,
) -> list[_Figure]:
    """The figures up to a highest note, all of one contour: the shape's own, where that will do."""
    ladders = [rungs(members(chord), LOWEST - 4, high) for chord in chords]
    starts = rungs(members(chords[0]), LOWEST, high)
    for turn in range(len(_HEADS) if crown else 1):
        head = _HEADS[(shape + turn) % len(_HEADS)][: len(chords) - 1]
        ends = (head[-1] - 1, head[-1] + 1)
        both = [tuple(_line(ladders, (*head, end), start) for end in ends) for start in starts]
        for said in (answered, not answered) if crown else (answered,):
            found = [_Figure(lines[0], lines[said]) for lines in both if all(lines)]
            if crown is not None:
                found = [
                    _Figure(lines[said], lines[said])
                    for lines in both
                    if lines[said] and crown.suits(lines[said])
                ]
            found = [one for one in found if one.said[-1] % 12 != spent]
            if found:
                return found
    return []


def _line(ladders: Sequence[tuple[int, ...]], contour: Sequence[int], start: int) -> tuple[int, ...]:
    """The contour from a pitch on, each note on its own chord's ladder; empty where one has no rung there."""
    line = []
    for ladder, step in zip(ladders, contour, strict=True):
        foot = next((index for index, pitch in enumerate(ladder) if pitch >= start), len(ladder))
        if not 0 <= foot + step < len(ladder):
            return ()
        line.append(ladder[foot + step])
    return tuple(line)


def _price(
    line: tuple[int, ...], chords: tuple[Chord, ...], on_beat: tuple[bool, ...], *, after: int, centre: int
) -> float:
    price = _OFF_CENTRE * abs(sum(line) / len(line) - centre)
    strong = [*on_beat[:-1], True]
    for pitch, chord, matters in zip(line, chords, strong, strict=True):
        price += _WEAK * (matters and pitch % 12 not in {tone.pitch_class for tone in chord.required})
    leaps = [abs(later - early) for early, later in pairwise(line)]
    price += _LONG_LEAP * sum(leap > _WIDEST for leap in leaps) + _REPEATED * leaps.count(0)
    return price + (_LEAP * max(0, abs(line[0] - after) - _FREE_LEAP) if after else 0.0)


# Figures by meter: onsets and the end, in eighths of a bar; and, where it is fast, in beats of two bars. They
# begin off the first beat. Judgement, no source.
_IN_EIGHTHS: dict[int, tuple[tuple[int, ...], ...]] = {
    3: ((1, 2, 3, 4, 5), (1, 2, 3, 5)),
    4: ((1, 2, 3, 4),),
    5: ((1, 2, 3, 4), (1, 2, 3, 4, 5), (1, 3, 4, 5)),
}
_IN_BEATS: dict[int, tuple[tuple[int, ...], ...]] = {
    3: ((1, 2, 3, 4),),
    4: ((1, 2, 3, 4), (1, 2, 3, 5)),
    5: ((1, 2, 3, 4), (2, 3, 4, 5)),
}


def times_of_call(beats: int, shape: int, *, fast: bool) -> tuple[int, ...]:
    """Ticks from the head of a figure's bar: its onsets, and its end at last."""
    choice = (_IN_BEATS if fast else _IN_EIGHTHS)[beats]
    grid = BEAT if fast else BEAT // 2
    return tuple(at * grid for at in choice[shape % len(choice)])
