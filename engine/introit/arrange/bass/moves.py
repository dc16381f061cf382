"""What each move of a bass line costs, by interval and by what the line did before.

A walking line keeps three rules: no pitch twice running, at most six notes one way, and a leap over a fourth
is answered by a step the other way. What the line did before is therefore one of a few **turns**: so many
moves up, so many down, or just leapt. A broken rule costs more than any line that keeps it. Prices:
judgement, no source.
"""

from __future__ import annotations

from enum import IntEnum

from introit.arrange.bass.material import HIGHEST, LOWEST

BROKEN = 100.0
"""Price of a broken rule: more than any line pays for anything else."""
DEAR = 25.0
"""A move that costs so much breaks a rule or misses what it should lead to."""
MOST_ONE_WAY = 6
"""Notes in a row that may go one way (judgement, no source; [BW6]: mix directions)."""
LEAP = 5
"""Semitones beyond which a move is a leap: a fourth."""
LEADING_STEPS = frozenset({1, 2, 5, 7})
"""Semitones from the last note to the head's root: step, fourth or fifth (common practice, no source)."""


class Move(IntEnum):
    """How one note may go to the next."""

    FREE = 0
    INTO = 1
    """A step into the coming root, or its dominant: down a fifth or up a fourth."""
    AROUND = 2
    """From one side of the coming root to the other."""
    OCTAVE = 3
    """To the same note, an octave off."""
    HOME = 4
    """Into the head's root, which the head plays."""
    ON = 5
    """To another note: outside a walking line only roots, fifths and skips may be struck again."""


START = 0
_UP, _DOWN = 1, MOST_ONE_WAY
_LEAPT_UP, _LEAPT_DOWN = 2 * MOST_ONE_WAY - 1, 2 * MOST_ONE_WAY
TURNS = 2 * MOST_ONE_WAY + 1

Row = list[tuple[float, int]]
"""By interval (negative ones counted from the end): the price and the turn after it."""

_SPAN = HIGHEST - LOWEST + 12
_LEAPS = (0.0, 0.0, 0.0, 0.25, 0.3, 0.3, 1.0, 0.5, 1.3, 1.5, 2.2, 2.6, 1.5)
_FAR, _FARTHER = 4.0, 0.3
_REPEAT, _REPEAT_MOVING_ON, _ZIGZAG = 0.5, 5.0, 0.2
_NO_WAY_IN, _NO_WAY_AROUND, _NO_OCTAVE, _LEADS_NOWHERE = 30.0, 8.0, 3.0, 60.0
_STEPS_IN = {1: 0.0, -1: 0.0, 2: 0.0, -2: 0.0, 5: 0.1, -7: 0.2}


def _price(move: Move, interval: int) -> float:
    size = abs(interval)
    leap = _LEAPS[size] if size < len(_LEAPS) else _FAR + _FARTHER * size
    if move is Move.INTO:
        return _STEPS_IN.get(interval, _NO_WAY_IN + leap)
    if move is Move.AROUND:
        return 0.0 if 2 <= size <= 4 else _NO_WAY_AROUND + leap
    if move is Move.OCTAVE:
        return 0.0 if size == 12 else _NO_OCTAVE + leap
    if move is Move.HOME and size not in LEADING_STEPS:
        return _LEADS_NOWHERE + leap
    return leap


def _walked(turn: int, interval: int) -> tuple[float, int]:
    """Price of a walking line's turn, and the turn after it."""
    if interval == 0:
        return BROKEN, START
    up = interval > 0
    first, leapt = (_UP, _LEAPT_UP) if up else (_DOWN, _LEAPT_DOWN)
    price, run = 0.0, first
    if turn in {_LEAPT_UP, _LEAPT_DOWN}:
        answered = (turn == _LEAPT_UP) is not up and abs(interval) <= 2
        price = 0.0 if answered else BROKEN
    elif first <= turn < first + MOST_ONE_WAY - 1:
        run = turn + 1
        if run == first + MOST_ONE_WAY - 1:
            price, run = BROKEN, first
    elif turn in {_UP, _DOWN}:
        price = _ZIGZAG
    return price, leapt if abs(interval) > LEAP else run


def _row(move: Move, turn: int, *, walks: bool) -> Row:
    row = [(0.0, START)] * (2 * _SPAN + 1)
    for interval in range(-_SPAN, _SPAN + 1):
        price = _price(move, interval)
        again = _REPEAT_MOVING_ON if move is Move.ON else _REPEAT
        turned, after = _walked(turn, interval) if walks else (again * (interval == 0), START)
        row[interval] = price + turned, after
    return row


TABLES: dict[tuple[Move, bool], list[Row]] = {
    (move, walks): [_row(move, turn, walks=walks) for turn in range(TURNS)]
    for move in Move
    for walks in (False, True)
}
"""For each move, in a walking line or another: a row for each turn."""
