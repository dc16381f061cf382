"""Runs through triads, each note joined by a member of its triad below it; and the pair that they land on.

Between neighbouring members of a triad lie thirds and a fourth; between members two apart, sixths and a
fifth.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from introit.arrange.textures.members import Triad, rungs, triads
from introit.theory.chord import Chord

LOWEST, HIGHEST = 55, 79
"""G3 to G5: where the joined notes begin, and where the line ends."""
LINE_LOWEST = 62
_EMERGENCY = 84
"""C6: how high a long run may go where it has no room below."""
_UNDER_HIGHEST = 5
"""Semitones under the highest note allowed, about which a run lies."""
_STEPS = (1, 2)
"""Semitones of a step."""
_CONTOURS = (
    (0, 1, 2, 3, 4, 5),
    (0, 2, 1, 3, 2, 4),
    (0, 1, 2, 1, 2, 3),
    (3, 2, 1, 2, 1, 0),
    (2, 0, 1, 2, 3, 2),
)
"""Members of the triad, counted from the run's lowest, note by note. Judgement, no source."""
_JOINS = ((1, 2), (2, 1), (2, 2, 1), (1, 1, 2))
"""How many members below its note each joined one lies, in turn."""
_OFF_CENTRE, _LEAP, _NO_STEP, _OTHER_CONTOUR, _FROM_ABOVE = 0.15, 0.2, 30.0, 1.5, 0.6
_FREE_LEAP, _SAME_NOTE = 4, 2.0
_WIDEST, _WIDE_LEAP = 7, 2.0
"""Over a fifth from note to note the line falls apart."""
_FLAT, _STIFF_JOIN = 2.0, 1.5

Pair = tuple[int, int]
"""The joined note and the note of the line, MIDI."""


_Known = tuple[tuple[Pair, ...], int, int, bool]
"""The pairs of a run, its contour, its joins, and whether its end comes from a triad above the chord."""


class Run(NamedTuple):
    """A run and its landing.

    Attributes:
        pairs: the run's notes, each with the one that joins it.
        landing: the coming chord's pair, its upper note a step from the run's last; None where there is none.
    """

    pairs: tuple[Pair, ...]
    landing: Pair | None


@lru_cache(maxsize=16384)
def run_of(chord: Chord, following: Chord, count: int, *, after: int, taste: int, high: int = HIGHEST) -> Run:
    """The run of so many notes over a chord that suits best, with the pair of the following chord after it.

    Args:
        chord: the chord of the run.
        following: the chord it leads to.
        count: how many notes, 2 to 6.
        after: MIDI note of the line before it; 0 for none.
        taste: 0 to 19: which contour and which order of joins is preferred, and from which triad it ends.
        high: highest MIDI note of the line.
    """
    best, landings = _best(chord, following, count, high=high, after=after, taste=taste)
    if abs(best[0][-1][1] - _nearest(landings, best[0][-1][1])) not in _STEPS and high < HIGHEST:
        best, landings = _best(chord, following, count, high=HIGHEST, after=after, taste=taste)
    pairs = best[0]
    landing = min(
        (pair for pair in landings if abs(pair[1] - pairs[-1][1]) in _STEPS),
        key=lambda pair: (pair[1] < pairs[-1][1], pair),
        default=None,
    )
    return Run(pairs, landing)


def _best(
    chord: Chord, following: Chord, count: int, *, high: int, after: int, taste: int
) -> tuple[_Known, tuple[Pair, ...]]:
    """The cheapest run up to a highest note, with the pairs that it may land on."""
    runs = _runs(chord, count, high) or _runs(chord, count, HIGHEST) or _runs(chord, count, _EMERGENCY)
    landings = pairs_on(following, high) or pairs_on(following, HIGHEST)
    tops = {pair[1] for pair in landings}
    centre = high - _UNDER_HIGHEST
    return min(runs, key=lambda run: (_run_price(run, tops, after, taste, centre), run)), landings


def _nearest(landings: tuple[Pair, ...], pitch: int) -> int:
    """The line's note of the landing that lies nearest, but not on the pitch itself."""
    return min((pair[1] for pair in landings if pair[1] != pitch), key=lambda top: abs(top - pitch))


@lru_cache(maxsize=4096)
def pairs_on(chord: Chord, high: int = HIGHEST) -> tuple[Pair, ...]:
    """Pairs that state a chord by themselves: two members of its own triad, its third among them."""
    third = chord.guide_tones[0].pitch_class
    found = []
    for triad in _own(chord):
        ladder = rungs(triad, LOWEST, high)
        for at in range(2, len(ladder)):
            found += [(ladder[at - join], ladder[at]) for join in (1, 2) if ladder[at] >= LINE_LOWEST]
    return tuple(pair for pair in found if third in {pair[0] % 12, pair[1] % 12})


@lru_cache(maxsize=4096)
def _runs(chord: Chord, count: int, high: int) -> tuple[_Known, ...]:
    own, above = _own(chord), triads(chord)[1]
    found: list[_Known] = []
    for first in own[:2]:
        for last in (*own[:2], *above[:3]):
            for contour, joins in ((c, j) for c in range(len(_CONTOURS)) for j in range(len(_JOINS))):
                found += [
                    (pairs, contour, joins, last in above)
                    for pairs in _through(first, last, count=count, contour=contour, joins=joins, high=high)
                ]
    return tuple(found)


def _own(chord: Chord) -> tuple[Triad, ...]:
    own, above = triads(chord)
    return own or above


def _through(
    first: Triad, last: Triad, *, count: int, contour: int, joins: int, high: int
) -> list[tuple[Pair, ...]]:
    """Runs whose first half goes through one triad and whose second half through another, or the same."""
    lower, upper = rungs(first, LOWEST, high), rungs(last, LOWEST, high)
    turn = count if first == last or count < 4 else (count + 1) // 2
    runs = []
    for at in range(2, len(lower)):
        line: list[Pair] = []
        for number in range(count):
            ladder = lower if number < turn else upper
            nearest = at if number < turn else _same_height(lower, upper, at)
            index = nearest + _CONTOURS[contour][number]
            join = _JOINS[joins][number % len(_JOINS[joins])]
            if index >= len(ladder) or index - join < 0:
                break
            line.append((ladder[index - join], ladder[index]))
        moves = all(one[1] != other[1] for one, other in pairwise(line))
        if len(line) == count and moves and min(pair[1] for pair in line) >= LINE_LOWEST:
            runs.append(tuple(line))
    return runs


def _same_height(lower: tuple[int, ...], upper: tuple[int, ...], at: int) -> int:
    return next((index for index, pitch in enumerate(upper) if pitch >= lower[at]), len(upper))


def _run_price(run: _Known, landings: set[int], after: int, taste: int, centre: float) -> float:
    pairs, contour, joins, from_above = run
    last = pairs[-1][1]
    price = _OFF_CENTRE * abs((pairs[0][1] + last) / 2 - centre)
    price += _NO_STEP * (not any(last + step in landings or last - step in landings for step in _STEPS))
    price += _LEAP * max(0, abs(pairs[0][1] - after) - _FREE_LEAP) if after else 0.0
    price += _SAME_NOTE * (pairs[0][1] == after)
    price += _OTHER_CONTOUR * (contour != taste % len(_CONTOURS))
    price += _STIFF_JOIN * (joins != taste // len(_CONTOURS) % len(_JOINS))
    price += _FROM_ABOVE * (from_above != bool(taste % 2))
    leaps = [abs(two[1] - one[1]) for one, two in pairwise(pairs)]
    price += sum(_WIDE_LEAP for leap in leaps if leap > _WIDEST)
    sizes = {high - low for low, high in pairs}
    return price + _FLAT * (len(sizes) == 1)
