"""Runs through triads, each note joined by a member of its triad below it; and the pair that they land on.

Between neighbouring members of a triad lie thirds and a fourth; between members two apart, sixths and a
fifth.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from introit.arrange.textures.crown import Crown
from introit.arrange.textures.members import Triad, members, rungs, triads
from introit.theory.chord import Chord

LOWEST, HIGHEST = 55, 79
"""G3 to G5: where the joined notes begin, and where the line ends."""
LINE_LOWEST = 62
_EMERGENCY = 84
"""C6: how high a long run may go where it has no room below."""
_HIGHER = 3
"""Semitones by which a run that finds no room goes higher."""
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
_SHORT_OF_PEAK = 2.0
_FLAT = 2.0

Pair = tuple[int, int]
"""The joined note and the note of the line, MIDI."""


_Known = tuple[tuple[Pair, ...], int, bool]
"""The pairs of a run, its contour, and whether its end comes from a triad above the chord."""


class Run(NamedTuple):
    """A run and its landing.

    Attributes:
        pairs: the run's notes, each with the one that joins it.
        landing: the coming chord's pair, its upper note a step from the run's last; None where there is none.
    """

    pairs: tuple[Pair, ...]
    landing: Pair | None

    @property
    def line(self) -> list[int]:
        """The notes of the line, its landing among them."""
        return [high for _, high in (*self.pairs, *((self.landing,) if self.landing else ()))]


@lru_cache(maxsize=16384)
def run_of(
    chord: Chord,
    following: Chord,
    count: int,
    *,
    after: int,
    taste: int,
    high: int = HIGHEST,
    crown: Crown | None = None,
) -> Run:
    """The run of so many notes over a chord that suits best, with the pair of the following chord after it.

    Args:
        chord: the chord of the run.
        following: the chord it leads to.
        count: how many notes, 2 to 6.
        after: MIDI note of the line before it; 0 for none.
        taste: 0 to 19: which contour and which order of joins is preferred, and from which triad it ends.
        high: highest MIDI note of the line.
        crown: asked of the run with the intro's highest note, in its landing too if that has a place; any
            order of joins will do for it, and `high` is where it would best be.
    """
    if crown is not None:
        run = _crowned(chord, following, count, crown, after=after, taste=taste, high=high)
        if run is not None:
            return run
    for highest in _limits(high, max(high, HIGHEST)):
        best, landings = _best(chord, following, count, high=highest, after=after, taste=taste)
        if _landings(best, landings):
            break
    return Run(best[0], min(_landings(best, landings), key=lambda pair: _way_down(best, pair), default=None))


def _best(
    chord: Chord, following: Chord, count: int, *, high: int, after: int, taste: int
) -> tuple[_Known, tuple[Pair, ...]]:
    """The cheapest run up to a highest note, with the pairs that it may land on."""
    joins = taste // len(_CONTOURS) % len(_JOINS)
    limits = _limits(high, max(high, _EMERGENCY))
    runs = next(runs for limit in limits if (runs := _runs(chord, count, limit, joins)))
    landings = pairs_on(following, high) or pairs_on(following, HIGHEST)
    tops = {pair[1] for pair in landings}
    centre = high - _UNDER_HIGHEST
    return min(runs, key=lambda run: (_run_price(run, tops, after, taste, centre), run)), landings


def _limits(high: int, highest: int) -> list[int]:
    """Highest notes that are tried one after the other: no line goes higher than it must."""
    return [*range(high, highest, _HIGHER), highest]


def _crowned(
    chord: Chord, following: Chord, count: int, crown: Crown, *, after: int, taste: int, high: int
) -> Run | None:
    """The run and landing that bring the intro's highest note, at `high` or as near to it as can be."""
    for limit in _limits(high, max(high, _EMERGENCY)):
        landings = pairs_on(following, limit)
        tops = {pair[1] for pair in landings}
        found = [
            (
                _run_price(run, tops, after, taste, high - _UNDER_HIGHEST)
                + _SHORT_OF_PEAK * abs(high - max(pair[1] for pair in (*run[0], *lands))),
                *_way_down(run, lands[0]),
                Run(run[0], lands[0]),
            )
            for joins in range(len(_JOINS))
            for run in _runs(chord, count, limit, joins)
            for lands in ([pair] for pair in _landings(run, landings))
            if _crowns([pair[1] for pair in run[0]], lands[0][1], crown)
        ]
        if found:
            return min(found)[-1]
    return None


def _crowns(line: list[int], landing: int, crown: Crown) -> bool:
    """Whether a run, with its landing if that is heard, brings the highest note."""
    return crown.suits([*line, landing][: len(crown.places)])


def _landings(run: _Known, landings: tuple[Pair, ...]) -> list[Pair]:
    """Those of the pairs that begin a step from where a run ends."""
    return [pair for pair in landings if abs(pair[1] - run[0][-1][1]) in _STEPS]


def _way_down(run: _Known, landing: Pair) -> tuple[bool, Pair]:
    """Order of landings: upwards first, then the lowest."""
    return landing[1] < run[0][-1][1], landing


@lru_cache(maxsize=4096)
def pairs_on(chord: Chord, high: int = HIGHEST) -> tuple[Pair, ...]:
    """Pairs that state a chord by themselves: two members of its own triad, its third among them."""
    third = chord.guide_tones[0].pitch_class
    found = []
    for triad in _own(chord):
        ladder = rungs(triad, LOWEST, high)
        for at in range(2, len(ladder)):
            found += [(ladder[at - join], ladder[at]) for join in (1, 2) if ladder[at] >= LINE_LOWEST]
    return tuple(pair for pair in found if third in {pair[0] % 12, pair[1] % 12}) or tuple(found)


@lru_cache(maxsize=4096)
def _runs(chord: Chord, count: int, high: int, joins: int) -> tuple[_Known, ...]:
    own, above = _own(chord), triads(chord)[1]
    found: list[_Known] = []
    for first in own[:2]:
        for last in (*own[:2], *above[:3]):
            for contour in range(len(_CONTOURS)):
                found += [
                    (pairs, contour, last in above)
                    for pairs in _through(first, last, count=count, contour=contour, joins=joins, high=high)
                ]
    return tuple(found)


def _own(chord: Chord) -> tuple[Triad, ...]:
    """Its own triads; where no triad lies in it, the first three of its members."""
    own, above = triads(chord)
    first, second, third = members(chord)[:3]
    return own or above or ((first, second, third),)


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
    pairs, contour, from_above = run
    last = pairs[-1][1]
    price = _OFF_CENTRE * abs((pairs[0][1] + last) / 2 - centre)
    price += _NO_STEP * (not any(last + step in landings or last - step in landings for step in _STEPS))
    price += _LEAP * max(0, abs(pairs[0][1] - after) - _FREE_LEAP) if after else 0.0
    price += _SAME_NOTE * (pairs[0][1] == after)
    price += _OTHER_CONTOUR * (contour != taste % len(_CONTOURS))
    price += _FROM_ABOVE * (from_above != bool(taste % 2))
    leaps = [abs(two[1] - one[1]) for one, two in pairwise(pairs)]
    price += sum(_WIDE_LEAP for leap in leaps if leap > _WIDEST)
    sizes = {high - low for low, high in pairs}
    return price + _FLAT * (len(sizes) == 1)
