"""Lines that rise in pairs: chord members two at a time, in thirds, fourths and sixths."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from introit.arrange.textures.members import guides, members, rub, rungs
from introit.theory.chord import Chord

LOWEST, HIGHEST = 64, 80
"""E4 to Ab5: where the line's upper notes lie."""
_INTERVALS = (3, 4, 5, 8, 9)
"""Semitones of thirds, the fourth and sixths."""
_WIDEST_STEP = 5
"""Semitones from note to note of the line: a fourth at most."""
_GOAL = 76
"""E5: where a line ends by preference (judgement, no source)."""
_OFF_PEAK = 2.0
_ROOM = 13
"""Semitones over the lowest lower note that a line has at least."""
_OFF_GOAL, _LEAP, _OTHER_INTERVAL, _WITHOUT_GUIDE, _FOURTH = 0.25, 0.3, 0.4, 3.0, 0.3
_HIGHER = 2
"""Semitones by which a line that finds no room goes higher."""
_KEPT = 12
"""Ways kept from note to note."""

Pair = tuple[int, int]
"""The lower and the upper note, MIDI."""


@lru_cache(maxsize=16384)
def rising(
    stretches: tuple[tuple[Chord, int], ...],
    held: tuple[int, ...],
    *,
    floor: int,
    goal: int = _GOAL,
    over: int = 0,
) -> tuple[Pair, ...]:
    """A line of pairs whose upper notes rise; empty where there is none.

    Args:
        stretches: chords, each with how many pairs it lies under; a new one is stated by a guide tone in its
            first pair.
        held: MIDI notes that go on sounding below; no pair lies a minor ninth over one of them.
        floor: lowest MIDI note of the lower line.
        goal: MIDI note that the line ends near, and keeps under where there is room.
        over: for the line with the intro's highest note, the MIDI note that it must rise over to reach its
            goal; 0 for the others.
    """
    off_goal = _OFF_PEAK if over else _OFF_GOAL
    steps = [(chord, number == 0) for chord, count in stretches for number in range(count)]
    for highest in _limits(goal, floor, over):
        ways = _ways(steps, held, floor=floor, highest=highest, over=over)
        if ways:
            return min((price + off_goal * abs(way[-1][1] - goal), way) for price, way in ways)[1]
    return ()


def _limits(goal: int, floor: int, over: int) -> list[int]:
    """Highest notes that are tried one after the other: no line goes higher than it must."""
    utmost = max(goal, HIGHEST, over + _WIDEST_STEP if over else 0)
    first = max(goal, min(floor + _ROOM, utmost)) if not over else goal
    return sorted({goal, *range(first, utmost, _HIGHER), utmost})


_Way = tuple[float, tuple[Pair, ...]]
"""The price of a line so far, and its pairs."""


def _ways(
    steps: list[tuple[Chord, bool]], held: tuple[int, ...], *, floor: int, highest: int, over: int
) -> list[_Way]:
    """Rising lines up to a highest note, and over another one, the cheapest of each length kept."""
    ways: list[_Way] = [(0.0, ())]
    for number, (chord, begins) in enumerate(steps):
        above = over - _WIDEST_STEP * (len(steps) - 1 - number)
        options = [pair for pair in _options(chord, held, floor=floor, highest=highest) if above < pair[1]]
        ways = sorted(
            (price + _price(way, pair, chord, new=begins and number > 0), (*way, pair))
            for price, way in ways
            for pair in options
            if not way or 0 < pair[1] - way[-1][1] <= _WIDEST_STEP
        )[: _KEPT * len(options)]
    return ways


def _options(chord: Chord, held: tuple[int, ...], *, floor: int, highest: int) -> Iterator[Pair]:
    ladder = rungs(members(chord), floor, highest)
    free = chord.root.pitch_class if chord.is_dominant else None
    for high in ladder:
        for low in ladder:
            below = tuple(pitch for pitch in held if pitch < low)
            if high >= LOWEST and high - low in _INTERVALS and not rub((*below, low, high), free_root=free):
                yield low, high


def _price(way: tuple[Pair, ...], pair: Pair, chord: Chord, *, new: bool) -> float:
    """Small steps, one kind of interval for a while, the new chord's third or seventh in its first pair."""
    price = _FOURTH * (pair[1] - pair[0] == 5)
    if new and not {pair[0] % 12, pair[1] % 12} & set(guides(chord)):
        price += _WITHOUT_GUIDE
    if way:
        before = way[-1]
        price += _LEAP * max(0, pair[1] - before[1] - 2)
        price += _OTHER_INTERVAL * (abs((pair[1] - pair[0]) - (before[1] - before[0])) > 1)
        price += _WITHOUT_GUIDE * (pair[0] <= before[0])
    return price
