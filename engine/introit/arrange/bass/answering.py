"""A bass that answers the comping: the root on the change, then notes into the next one in the comp's gap."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from random import Random
from typing import NamedTuple

from introit.arrange.bass.station import Station
from introit.arrange.plan import Plan
from introit.arrange.score import COMP, ScoreNote
from introit.units import TICKS_PER_QUARTER as BEAT

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


class Heard(NamedTuple):
    """What an answer goes by: the comp's onsets, rising, and the beats in which another part moves."""

    hits: list[int]
    busy: frozenset[int]


def listen(above: Sequence[ScoreNote]) -> Heard:
    """Hears out comp and melody; a part moves in a beat in which it has two onsets or more."""
    onsets = {(note.part == COMP, note.onset) for note in above}
    beats = Counter((comp, onset // BEAT) for comp, onset in onsets)
    busy = frozenset(beat for (_, beat), count in beats.items() if count > 1)
    return Heard(sorted(onset for comp, onset in onsets if comp), busy)


def answered(plan: Plan, roots: Sequence[Station], heard: Heard, rolls: Random) -> list[Station]:
    """The stations of a passage with answers between them.

    Args:
        plan: the chords.
        roots: what the manner writes, in order.
        heard: what sounds above.
        rolls: dice for whether and how a gap is filled.
    """
    if not roots:
        return []
    clear = plan.quiet_tick
    ends = [*(one.onset for one in roots[1:]), min(clear, plan.chords[roots[-1].chord].end)]
    found: list[Station] = []
    for one, end in zip(roots, ends, strict=True):
        answer = list(_answer(plan, one, end, heard, rolls))
        first = answer[0].onset if answer else end
        found += [one._replace(end=min(one.end, first)) if first > one.onset else one, *answer]
    return found


def _answer(plan: Plan, root: Station, end: int, heard: Heard, rolls: Random) -> Iterator[Station]:
    """Two or three notes between a root and the next, in a gap of the comp; none where there is no room."""
    inside = heard.hits[bisect_right(heard.hits, root.onset) : bisect_left(heard.hits, end)]
    gap = _gap(root, end, inside)
    if gap is None or rolls.random() > _ANSWERS:
        return
    begin, end = gap
    shapes = _QUARTERS if plan.tempo > _RUNNING else (*_EIGHTHS, *_QUARTERS)
    figures = [[end - before for before in shape] for shape in shapes if end - shape[0] >= begin]
    figures = [figure for figure in figures if not _moving(figure) & heard.busy]
    if not figures:
        return
    onsets = rolls.choice(figures)
    tones = ["chord", *["scale"] * (len(onsets) - 2), "approach"]
    for (onset, until), tone in zip(pairwise([*onsets, end]), tones, strict=True):
        yield Station(onset, until, tone, plan.at(onset), walks=True)


def _moving(onsets: Sequence[int]) -> set[int]:
    """Beats in which two notes begin."""
    return {one // BEAT for one, after in pairwise(onsets) if one // BEAT == after // BEAT}


def _gap(root: Station, end: int, hits: Sequence[int]) -> tuple[int, int] | None:
    """The last gap between the comp's hits that is wide enough: from where a note may begin to its end."""
    edges = [root.onset + BEAT - CLEAR, *hits, end]
    gaps = [(before + CLEAR, after) for before, after in pairwise(edges) if after - before >= _GAP]
    return gaps[-1] if gaps else None
