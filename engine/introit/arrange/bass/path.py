"""The best bass line through given options, by dynamic programming over pitch and turn."""

from __future__ import annotations

from collections.abc import Sequence
from operator import itemgetter

from introit.arrange.bass.moves import BROKEN, START, Row

Priced = Sequence[tuple[int, float]]
"""(MIDI note, price) pairs."""

_BEAM, _LIKELY = 8, 2.0
"""The first search keeps so many states at each step, and no note that is so much dearer than the best one
there; where its line breaks a rule, a second search keeps them all."""
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
    least = [min(map(itemgetter(1), priced)) for priced in options]
    likely = [
        [one for one in priced if one[1] <= price + _LIKELY]
        for priced, price in zip(options, least, strict=True)
    ]
    unavoidable = sum(least)
    states, origins = _search(likely, tables, goal, beam=_BEAM)
    if min(states.values()) >= unavoidable + BROKEN:
        states, origins = _search(options, tables, goal, beam=None)
    return _traced(states, origins)


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
    state = min(states, key=lambda one: (states[one], one))
    line: list[int] = []
    for origin in reversed(origins):
        state = origin[state]
        line.append(state >> _SHIFT)
    return line[::-1]
