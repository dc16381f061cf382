"""A bass that answers the comping: the root on the change, then notes into the next one in the comp's gap."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import pairwise
from random import Random

from introit.arrange.bass.station import Station
from introit.arrange.plan import Plan
from introit.units import TICKS_PER_QUARTER as BEAT
from introit.units import ticks

HALF = BEAT // 2
CLEAR = HALF
"""Ticks that an answer keeps after a hit of the comp: it comes off it, not with it."""
_GAP = 3 * HALF
"""The shortest gap that is filled, in ticks."""
_RUNNING = 200.0
"""Quarter notes a minute; faster than this, answers come in quarters (judgement, no source)."""
_EIGHTHS = ((3 * HALF, 2 * HALF, HALF), (4 * HALF, 2 * HALF, HALF), (2 * HALF, HALF))
_QUARTERS = ((3 * BEAT, 2 * BEAT, BEAT), (2 * BEAT, BEAT))
"""Where the notes of an answer begin, in ticks before the gap ends; two or three of them."""
_ANSWERS = 0.85
"""How often a gap is filled."""


def answered(plan: Plan, roots: Sequence[Station], hits: Sequence[int], rolls: Random) -> list[Station]:
    """The stations of a passage with answers between them.

    Args:
        plan: the chords.
        roots: what the manner writes, in order.
        hits: onsets of the comp, rising.
        rolls: dice for whether and how a gap is filled.
    """
    if not roots:
        return []
    clear = plan.head_tick - ticks(plan.tune.pickup)
    last = roots[-1]
    ends = [*(one.onset for one in roots[1:]), min(clear, plan.chords[last.chord].end)]
    found: list[Station] = []
    for one, end in zip(roots, ends, strict=True):
        inside = hits[bisect_right(hits, one.onset) : bisect_left(hits, end)]
        answer = list(_answer(plan, one, end, inside, rolls))
        first = answer[0].onset if answer else end
        found += [one._replace(end=min(one.end, first)), *answer]
    return found


def _answer(plan: Plan, root: Station, end: int, hits: Sequence[int], rolls: Random) -> Iterator[Station]:
    gap = _gap(root, end, hits)
    if gap is None or rolls.random() > _ANSWERS:
        return
    begin, end = gap
    shapes = _QUARTERS if plan.tempo > _RUNNING else (*_EIGHTHS, *_QUARTERS)
    fitting = [shape for shape in shapes if end - shape[0] >= begin]
    if not fitting:
        return
    onsets = [end - before for before in rolls.choice(fitting)]
    tones = ["chord", *["scale"] * (len(onsets) - 2), "approach"]
    for (onset, until), tone in zip(pairwise([*onsets, end]), tones, strict=True):
        yield Station(onset, until, tone, root.chord, walks=True)


def _gap(root: Station, end: int, hits: Sequence[int]) -> tuple[int, int] | None:
    """The last gap between the comp's hits that is wide enough: from where a note may begin to its end."""
    edges = [root.onset + BEAT - CLEAR, *hits, end]
    gaps = [(before + CLEAR, after) for before, after in pairwise(edges) if after - before >= _GAP]
    return gaps[-1] if gaps else None
