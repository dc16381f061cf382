"""Runs in two voices on a guitar's neck: where each pair is held, and the breath before the next grip."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from introit.arrange.shifting import FREE_SHIFT, REST
from introit.arrange.textures.arpeggio_runs import Pair
from introit.arrange.textures.neck import Held, walked
from introit.arrange.textures.room import BEAT, Span, position_at
from introit.arrange.textures.texture import Work

_FEWEST = 2
"""Pairs that are left of a run at least."""


class Struck(NamedTuple):
    """A pair of a run, at its time."""

    span: Span
    pair: Pair
    unit: int


_HeldRun = list[tuple[Struck, Held | None]]


def held_runs(work: Work, line: Sequence[Struck]) -> _HeldRun:
    """Where each pair is held; each run by itself, from where the hand lies before it to where it lies after.

    A run that ends too far from the next chord's grip comes so much earlier that the hand has a rest to get
    there; where there is no room for that, its last pairs are left out.

    Args:
        work: the passage.
        line: all its pairs, by onset, none longer than to the next.
    """
    found: _HeldRun = []
    position = position_at(work, line[0].unit) if line else 0
    begins = [at for at in range(len(line)) if not at or line[at].span[0] > line[at - 1].span[1]]
    for start, end in pairwise([*begins, len(line)]):
        free_from = line[start - 1].span[1] if start else 0
        run = _held_run(work, line[start:end], position, free_from=free_from)
        position = _last_position(run) or position
        found += run
    return found


def _held_run(work: Work, run: Sequence[Struck], position: int, *, free_from: int) -> _HeldRun:
    scene, last = work.scene, run[-1]
    leads_on = last.span[1] == scene.units[last.unit].end and last.unit + 1 < len(scene.units)
    to = position_at(work, last.unit + 1) if leads_on else 0
    held = walked(scene.stage, [struck.pair for struck in run], position, to=to)
    way = list(zip(run, held, strict=True))
    there = _last_position(way)
    if not to or not there or abs(there - to) <= FREE_SHIFT:
        return way
    return _with_a_breath(way, earliest=max(free_from + REST, scene.units[run[0].unit].start + BEAT))


def _with_a_breath(way: _HeldRun, *, earliest: int) -> _HeldRun:
    """The run with a rest after it.

    Its last pair is cut short where that is long; else all of it comes earlier where it may; else its last
    pairs are left out.
    """
    start, end = way[-1][0].span
    if end - start >= 2 * REST:
        last, held = way[-1]
        return [*way[:-1], (last._replace(span=(start, end - REST)), held)]
    step = end - start
    pairs = -(-REST // step)
    if way[0][0].span[0] - pairs * step < earliest:
        return way[: max(_FEWEST, len(way) - pairs)]
    return [
        (struck._replace(span=(struck.span[0] - pairs * step, struck.span[1] - pairs * step)), held)
        for struck, held in way
    ]


def _last_position(way: _HeldRun) -> int:
    return next((held.position for _, held in reversed(way) if held and held.position), 0)
