"""How a passage of call and response is cut up: where the figure calls, and from when the comp may answer."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.arrange.textures.calls import times_of_call
from introit.arrange.textures.room import BEAT, BREATH, FAST, bars_of, led_from, quiet_from
from introit.arrange.textures.texture import Work

_FEWEST_NOTES = 3
_SHORT_BAR = 3
"""Beats of a bar that has no room for both: there, as when it is fast, the answer has a bar of its own."""
_WINDOW, _MOST_BUSY = 4, 2
"""Of every four bars one is thin: here, where more than two of them are called in (common practice, no
source)."""


class Cell(NamedTuple):
    """A figure's bar, or two where it is fast or in three.

    Attributes:
        start, end: ticks.
        call: onsets of the figure made here, and its end at last; empty where the motif or nothing calls.
        gap: tick from which the comp may answer.
        thin: whether it is the bar of four that leaves air.
    """

    start: int
    end: int
    call: tuple[int, ...]
    gap: int
    thin: bool


def shape_of(scene: Scene) -> int:
    """Which figure an intro gets: its own, whoever plays and how often."""
    return sum(scene.plan.intro.id.encode())


def cells_of(work: Work) -> Iterator[Cell]:
    """The cells of a passage, in order, without gaps."""
    plan, bar_ticks = work.scene.plan, work.scene.plan.bar_ticks
    in_two = plan.tempo > FAST or plan.meter.beats == _SHORT_BAR
    starts = [work.scene.units[bar[0]].start for bar in bars_of(work)]
    thin = _thin(starts, bar_ticks, last=plan.head_tick - bar_ticks)
    while starts:
        start = starts.pop(0)
        end = start + bar_ticks
        if in_two and starts and _may_join(work, starts[0]):
            starts.pop(0)
            end += bar_ticks
        is_thin = start in thin and end - start == bar_ticks
        if plan.intro.melody.has_motif:
            yield Cell(start, end, (), _gap_after_motif(work, start, end), is_thin)
        else:
            yield _own_cell(work, start, end, thin=is_thin)


def _thin(starts: list[int], bar_ticks: int, *, last: int) -> set[int]:
    """Of each four bars of the intro, counted from its first, the last one here that can be thin."""
    windows: dict[int, list[int]] = {}
    for start in starts:
        if start < last:  # the intro's last bar has the chord and the hit that sets up the head
            windows.setdefault(start // bar_ticks // _WINDOW, []).append(start)
    return {found[-1] for found in windows.values() if len(found) > _MOST_BUSY}


def _may_join(work: Work, following: int) -> bool:
    """Whether a bar answers the one before it: none that the motif calls in.

    Nor does the last bar answer a motif. It answers a figure that is made for it: the peak of the figures is
    then the last of them, late enough to be the intro's.
    """
    plan = work.scene.plan
    if not plan.intro.melody.has_motif:
        return True
    end = following + plan.bar_ticks
    sung = any(note.onset < end and following < note.end for note in work.melody)
    return not sung and following < plan.head_tick - plan.bar_ticks


def _gap_after_motif(work: Work, start: int, end: int) -> int:
    """Where the motif's notes that sound in a stretch end; the stretch's start where it rests."""
    until = min(end, led_from(work.scene.plan))
    ends = [min(note.end, end) for note in work.melody if note.onset < until and start < note.end]
    return max(ends, default=start)


def _own_cell(work: Work, start: int, end: int, *, thin: bool) -> Cell:
    """A cell with a figure.

    Without one in a thin bar that has one chord, in a bar left over from two, and where the ending has no
    room.
    """
    scene, plan = work.scene, work.scene.plan
    fast, single = plan.tempo > FAST, end - start == plan.bar_ticks
    in_two = fast or plan.meter.beats == _SHORT_BAR
    units = scene.unit_at(end - 1) - scene.unit_at(start) + 1
    breathes = single and (in_two or (thin and units == 1))
    times = tuple(start + at for at in times_of_call(plan.meter.beats, shape_of(scene), fast=fast))
    if end == plan.head_tick:
        times = _at_the_end(plan, times, alone=single)
    if breathes or not times:
        return Cell(start, end, (), start, thin)
    changes = [unit.start for unit in scene.units if times[-2] < unit.start < times[-1]]
    gap = min([*changes, times[-1]])  # no note of the figure says a chord that comes under its last one
    return Cell(start, end, (*times[:-1], gap), gap, thin)


def _at_the_end(plan: Plan, times: tuple[int, ...], *, alone: bool) -> tuple[int, ...]:
    """The onsets and the end of a figure in the last bar, or in the bar that it answers; none without room.

    Args:
        plan: the chords.
        times: as the figure has them.
        alone: whether it lies in the last bar; else it ends about the last bar line.
    """
    last_bar = plan.head_tick - plan.bar_ticks
    out = min(quiet_from(plan), last_bar + (plan.meter.beats // 2 if alone else 1) * BEAT)
    if plan.leads_in:
        out = min(out, plan.pickup_tick - BREATH)
    within = tuple(time for time in times if time <= out)
    if not alone and len(within) < len(times):
        within = (*(time for time in within if time < out), out)
    return within if len(within) > _FEWEST_NOTES else ()
