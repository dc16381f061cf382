"""Swing: how long the first eighth of a beat is, by tempo and by who plays."""

from __future__ import annotations

from itertools import pairwise

from introit.arrange.score import BASS, COMP, MELODY, PEDAL, RIDE
from introit.library.model import Feel
from introit.units import TICKS_PER_QUARTER

SWING_OF_PART = {MELODY: "line", COMP: "comp", BASS: "comp", PEDAL: "comp", RIDE: "ride"}
"""Which of a feel's ratios a part swings by."""

_OFF_BEAT = TICKS_PER_QUARTER // 2


def swing_ratio(feel: Feel, kind: str, tempo: float) -> float:
    """Long eighth to short eighth at a tempo: straight between the feel's points, constant beyond them.

    Args:
        feel: the feel.
        kind: `ride`, `comp` or `line`; one that the feel does not name is even.
        tempo: quarter notes a minute.
    """
    points = feel.swing.get(kind) or ((tempo, 1.0),)
    if tempo <= points[0][0]:
        return points[0][1]
    for (low, first), (high, second) in pairwise(points):
        if tempo <= high:
            return first + (second - first) * (tempo - low) / (high - low)
    return points[-1][1]


def swung(tick: int, ratio: float) -> int:
    """A tick moved by swing; order is kept.

    Beats stay, the off-beat eighth goes to ratio / (1 + ratio) of the beat, all between moves in proportion.
    """
    beat, within = divmod(tick, TICKS_PER_QUARTER)
    off_beat = TICKS_PER_QUARTER * ratio / (1 + ratio)
    if within <= _OFF_BEAT:
        moved = within / _OFF_BEAT * off_beat
    else:
        moved = off_beat + (within - _OFF_BEAT) / _OFF_BEAT * (TICKS_PER_QUARTER - off_beat)
    return beat * TICKS_PER_QUARTER + round(moved)
