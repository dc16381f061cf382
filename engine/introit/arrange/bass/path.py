"""The best bass line through given options, by dynamic programming over pitch and turn."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from operator import itemgetter

from introit.arrange.bass.moves import DEAR, START, Row

Priced = Sequence[tuple[int, float]]
"""(MIDI note, price) pairs."""

_BEAM, _LIKELY = 8, 2.0
"""The first search keeps so many states at each step, and no note that is so much dearer than the best one
there; where its line stumbles, a second search keeps them all."""
_SHIFT = 4
_TURN = (1 << _SHIFT) - 1
_NEVER = float("inf")
_States = dict[int, float]
_Origins = list[dict[int, int]]


def best_line(options: Sequence[Priced], tables: Sequence[list[Row]], goal: Priced) -> list[int]:
    """A pitch for each step.

    Args:
        options: what each step may play, at least one note each.
        tables: for each step, what the move to the next one costs (see `moves.TABLES`); the last one's move
            goes to the goal.
        goal: where the line leads.
    """
    likely = [_cheap(priced) for priced in options]
    way = _traced(*_search(likely, tables, goal, beam=_BEAM))
    if _stumbles(way, tables):
        way = _traced(*_search(options, tables, goal, beam=None))
    return [state >> _SHIFT for state in way[:-1]]


def _cheap(priced: Priced) -> Priced:
    most = min(map(itemgetter(1), priced)) + _LIKELY
    return [one for one in priced if one[1] <= most]


def _stumbles(way: Sequence[int], tables: Sequence[list[Row]]) -> bool:
    """Whether a move of a line costs what is only paid where nothing else is left."""
    return any(
        table[before & _TURN][(after >> _SHIFT) - (before >> _SHIFT)][0] >= DEAR
        for (before, after), table in zip(pairwise(way), tables, strict=True)
    )


def _search(
    options: Sequence[Priced], tables: Sequence[list[Row]], goal: Priced, *, beam: int | None
) -> tuple[_States, _Origins]:
    states = {pitch << _SHIFT | START: price for pitch, price in options[0]}
    origins: _Origins = []
    for following, table in zip([*options[1:], goal], tables, strict=True):
        if beam is not None and len(states) > beam:
            states = dict(sorted(states.items(), key=itemgetter(1))[:beam])
        states, origin = _advance(states, following, table)
        origins.append(origin)
    return states, origins


def _advance(states: _States, following: Priced, table: list[Row]) -> tuple[_States, dict[int, int]]:
    """The best way into each next state, and where it came from."""
    reached: _States = {}
    origin: dict[int, int] = {}
    for state, cost in states.items():
        row = table[state & _TURN]
        pitch = state >> _SHIFT
        for note, price in following:
            moved, turn = row[note - pitch]
            total = cost + moved + price
            after = note << _SHIFT | turn
            if total < reached.get(after, _NEVER):
                reached[after] = total
                origin[after] = state
    return reached, origin


def _traced(states: _States, origins: _Origins) -> list[int]:
    """The states of the best line, the goal's at the end."""
    way = [min(states, key=lambda one: (states[one], one))]
    for origin in reversed(origins):
        way.append(origin[way[-1]])
    return way[::-1]
