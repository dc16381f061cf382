"""The times of a two-hand gesture: where its line rises and where the bass answers."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import NamedTuple

from introit.arrange.textures.room import BEAT, EIGHTH, FAST, bars_of, is_last_bar
from introit.arrange.textures.texture import Work


class Gesture(NamedTuple):
    """One gesture.

    Attributes:
        units: indices of the scene's units in it.
        start, end: ticks, at bar lines.
        line: onsets of the line's pairs; empty where it does not sing.
        line_end: tick at which the line ends.
        answer: onsets of the bass's answer; empty where it does not answer.
    """

    units: tuple[int, ...]
    start: int
    end: int
    line: tuple[int, ...] = ()
    line_end: int = 0
    answer: tuple[int, ...] = ()


_Shape = tuple[tuple[int, ...], int, tuple[int, ...]]
"""Onsets of the line, its end, onsets of the answer."""

# By meter, in eighths from the bar's start. The line begins off the first beat, the answer fills the end of
# the bar. Judgement, no source.
_IN_EIGHTHS: dict[int, tuple[_Shape, ...]] = {
    3: (((1, 2, 3), 4, (4, 5)), ((2, 3), 4, (4, 5)), ((1, 2, 3), 5, (5,))),
    4: (
        ((2, 3, 4), 6, (6, 7)),
        ((3, 4, 5), 6, (6, 7)),
        ((1, 2, 3, 4), 6, (6,)),
        ((2, 3, 4), 5, (5, 6, 7)),
    ),
    5: (((2, 3, 4, 5), 7, (8, 9)), ((3, 4, 5, 6), 8, (8, 9)), ((2, 3, 4, 6), 7, (7, 8, 9))),
}
_FEWEST_PAIRS = 2
# By meter, in beats from the start of two bars, for fast tempi.
_IN_BEATS: dict[int, tuple[_Shape, ...]] = {
    3: (((1, 2, 3), 4, (4, 5)), ((1, 2, 3), 5, (5,))),
    4: (((2, 3, 4), 6, (6, 7)), ((1, 2, 3, 4), 6, (6, 7)), ((2, 3, 4), 6, (7,))),
    5: (((3, 4, 5), 7, (8, 9)), ((2, 3, 4, 5), 7, (7, 8, 9))),
}
# By meter, in beats of one bar, for the bar that is left over at last when it is fast.
_LEFT_OVER: dict[int, tuple[_Shape, ...]] = {
    3: (((1, 2), 3, ()),),
    4: (((1, 2, 3), 4, ()),),
    5: (((1, 2, 3), 4, (4,)), ((2, 3), 4, (4,))),
}


def gestures_of(work: Work) -> Iterator[Gesture]:
    """The passage's gestures in order: one a bar, or one in two bars where it is fast."""
    dice = work.scene.dice("two-hand gestures", work.passage.start)
    bars = [bar for bar in bars_of(work) if bar]
    fast = work.scene.plan.tempo > FAST
    while bars:
        taken = 2 if fast and len(bars) > 1 and _sings(work, bars[0]) and _sings(work, bars[1]) else 1
        units = tuple(unit for bar in bars[:taken] for unit in bar)
        bars = bars[taken:]
        yield _timed(work, units, dice, bars=taken)


def _sings(work: Work, bar: list[int]) -> bool:
    """Whether a bar has room for a line: not the intro's last one, and no more than two chords."""
    return len(bar) <= 2 and not is_last_bar(work, work.scene.units[bar[0]])


def _timed(work: Work, units: tuple[int, ...], dice: Random, *, bars: int) -> Gesture:
    scene, beats = work.scene, work.scene.plan.meter.beats
    start, end = scene.units[units[0]].start, scene.units[units[-1]].end
    plain = Gesture(units, start, end)
    fast = scene.plan.tempo > FAST
    if not _sings(work, list(units[:1])) or len(units) > 2 * bars:
        return plain
    if fast and bars == 1 and not is_last_bar(work, scene.units[units[-1] + 1]):
        return plain._replace(answer=(end - BEAT,))
    in_beats = _LEFT_OVER if bars == 1 else _IN_BEATS
    shapes, grid = (in_beats, BEAT) if fast else (_IN_EIGHTHS, EIGHTH)
    changes = [scene.units[unit].start for unit in units[1:]]
    timed = [
        _around_changes(
            plain._replace(
                line=tuple(start + at * grid for at in line),
                line_end=start + line_end * grid,
                answer=tuple(start + at * grid for at in answer),
            ),
            changes,
            through=not scene.seats.one_pair_of_hands,
        )
        for line, line_end, answer in shapes[beats]
    ]
    long = [gesture for gesture in timed if len(gesture.line) >= _FEWEST_PAIRS]
    return dice.choice(long or timed)


def _around_changes(gesture: Gesture, changes: list[int], *, through: bool) -> Gesture:
    """The gesture with its line ended, and its answer begun, where it does not go through a change.

    Args:
        gesture: as its shape has it.
        changes: ticks at which chords come in it.
        through: True where a pair on the change may stand for its shell; one pair of hands has the root to
            play there.
    """
    for change in changes:
        if through and change in gesture.line:
            continue
        if gesture.line and change < gesture.line_end:
            line = tuple(onset for onset in gesture.line if onset < change)
            gesture = gesture._replace(line=line, line_end=change)
        gesture = gesture._replace(answer=tuple(onset for onset in gesture.answer if onset > change))
    return gesture
