"""What the comp answers in the gaps of a figure: when, how long, and where it takes a chord early."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from math import ceil, floor
from random import Random
from typing import NamedTuple

from introit.arrange.comping.release import SHARE, balanced
from introit.arrange.comping.strokes import pushes_of
from introit.arrange.score import ScoreNote
from introit.arrange.textures.cells import Cell
from introit.arrange.textures.room import BEAT, EIGHTH, FAST, quiet_from, set_up
from introit.arrange.textures.texture import Work

_THREE = 0.3
_HELD = 0.8
"""Share of the answers with three accents, and of the accents held, where there is a beat to the next."""
_PUSHED = 0.35
"""Share of the changes that are pushed (common practice, no source)."""
_RUNNING = 2
"""So many answers running may have one rhythm."""

Rhythm = tuple[int, ...]
"""Ticks from a cell's start."""


class _Hit(NamedTuple):
    """A hit whose length is to be found: its room is that to the next one, or to the end of its chord."""

    onset: int
    unit: int
    room: int
    held: bool
    accent: bool


class _Said(NamedTuple):
    """What the passage has sounded so far: hits, those with room to be held, and the last rhythms."""

    hits: int
    holds: int
    before: tuple[Rhythm, ...]

    @property
    def is_stale(self) -> bool:
        """Whether the last rhythm has been heard often enough."""
        return len(self.before) == _RUNNING and len(set(self.before)) == 1

    @property
    def was_full(self) -> bool:
        """Whether the last answer had three accents: two such running would talk the call down."""
        return len(self.before[-1:]) == 1 and len(self.before[-1]) > 2

    def is_new(self, cell: Cell, onsets: Rhythm) -> bool:
        """Whether an answer has another rhythm than the last one."""
        return tuple(onset - cell.start for onset in onsets) not in self.before[-1:]

    def can_hold(self, cell: Cell, onsets: Rhythm) -> bool:
        """Whether enough of the hits can be held when this answer is added."""
        holds = self.holds + sum(later - onset >= BEAT for onset, later in pairwise(_spanned(cell, onsets)))
        return holds >= SHARE * (self.hits + len(onsets))


def answered(work: Work, cells: Sequence[Cell]) -> list[ScoreNote]:
    """The comp's hits in the cells of a passage, some short and some held."""
    hits = _hits(work, cells)
    wished = [hit.room if hit.held else min(hit.room, EIGHTH) for hit in hits]
    return [
        work.sound(hit.unit, voice, (hit.onset, hit.onset + length), accent=hit.accent)
        for hit, length in zip(hits, balanced([hit.room for hit in hits], wished), strict=True)
        for voice in work.voices(hit.unit)
    ]


def units_struck(work: Work, cells: Sequence[Cell]) -> list[tuple[int, int]]:
    """Tick and unit of each of the hits in the cells of a passage; no voicings are needed for it."""
    return [(hit.onset, hit.unit) for hit in _hits(work, cells)]


def _hits(work: Work, cells: Sequence[Cell]) -> list[_Hit]:
    dice = work.scene.dice("call and response", work.passage.start)
    pushed = _pushed(work, cells, dice)
    hits: list[_Hit] = []
    before: list[Rhythm] = []
    for cell in cells:
        said = _Said(len(hits), sum(hit.room >= BEAT for hit in hits), tuple(before[-_RUNNING:]))
        found = list(_answer(work, cell, dice, pushes=cell in pushed, said=said))
        before.append(tuple(hit.onset - cell.start for hit in found))
        hits += found
    return hits


def _pushed(work: Work, cells: Sequence[Cell], dice: Random) -> list[Cell]:
    """The cells whose last hit takes the coming chord: thrown, as many as go with the passage's changes."""
    able = [cell for cell in cells if _may_push(work, cell)]
    chords = [len(_units(work, cell)) for cell in able]
    thrown = sum(dice.random() < _PUSHED * count for count in chords)
    changes = len({work.scene.units[unit].chord for unit in work.units}) - 1
    shares = pushes_of(work.scene.plan.tune.feel)
    least, most = sorted((ceil(shares[0] * changes), floor(shares[1] * changes)))
    return dice.sample(able, min(len(able), max(least, min(most, thrown))))


def _may_push(work: Work, cell: Cell) -> bool:
    """Whether the chord after a cell may be taken early; where it is fast, only for want of two beats."""
    fast = work.scene.plan.tempo > FAST
    return _can_push(work, cell) and not (fast and len(_slots(work, cell)) > 1)


def _can_push(work: Work, cell: Cell) -> bool:
    """Whether the last eighth is free and a chord follows it."""
    scene, plan = work.scene, work.scene.plan
    if cell.end == plan.head_tick or not pushes_of(plan.tune.feel)[1]:
        return False
    changes = scene.units[scene.unit_at(cell.end)].chord != scene.units[scene.unit_at(cell.end - 1)].chord
    return changes and cell.start < cell.gap <= cell.end - EIGHTH and _answered_by(work, cell) == cell.end


def _units(work: Work, cell: Cell) -> range:
    """Indices of the units in a cell."""
    return range(work.scene.unit_at(cell.start), work.scene.unit_at(cell.end - 1) + 1)


def _answer(work: Work, cell: Cell, dice: Random, *, pushes: bool, said: _Said) -> Iterator[_Hit]:
    """The hits in a cell: an answer in the gap, a held grip where nothing calls, one hit at last."""
    plan = work.scene.plan
    silent = cell.gap == cell.start
    if cell.end == plan.head_tick or (silent and not plan.intro.melody.has_motif):
        yield from _held(work, cell, silent=silent)
        return
    onsets = _accents(work, cell, dice, pushes=pushes, said=said)
    for index, onset in enumerate(onsets):
        closes = index == len(onsets) - 1
        unit = _unit_struck(work, onset, pushes=closes and pushes)
        calls = (note.onset for note in work.melody if note.onset > onset)
        own = min(work.scene.units[unit].end, work.passage.end)  # the next texture strikes for itself
        end = min(own, quiet_from(plan), *calls, *onsets[index + 1 :])
        room = end - onset
        closing = closes and index > 0
        yield _Hit(onset, unit, min(room, EIGHTH) if closing else room, dice.random() < _HELD, closes)


def _held(work: Work, cell: Cell, *, silent: bool) -> Iterator[_Hit]:
    """Each chord that no call has stated, held; in the last bar, a short hit that sets up the head.

    A last bar that answers the bar before it holds what is left of a chord as well.
    """
    scene, quiet = work.scene, quiet_from(work.scene.plan)
    answers = silent or cell.end - cell.start > scene.plan.bar_ticks
    closing = set_up(work) if cell.end == scene.plan.head_tick else None
    quiet = closing[0] if closing else quiet
    count = 0
    for unit in _units(work, cell):
        begins, end = scene.units[unit].start, min(scene.units[unit].end, quiet)
        start = max(begins, cell.gap) if answers else begins
        if cell.gap <= start < end and (start == begins or end - start >= BEAT):
            count += 1
            yield _Hit(start, unit, end - start, held=True, accent=False)
    if closing and (answers or not count):
        yield _Hit(closing[0], len(scene.units) - 1, EIGHTH, held=False, accent=True)


def _answered_by(work: Work, cell: Cell) -> int:
    """Tick at which the answer's gap ends: with the cell, at the pickup, or where the motif calls again."""
    calls = (note.onset for note in work.melody if cell.gap <= note.onset < cell.end)
    return min(cell.end, quiet_from(work.scene.plan), *calls)


def _slots(work: Work, cell: Cell) -> list[int]:
    """Onsets in the gap that push nothing: eighths but for the last one; beats where it is fast."""
    grid = BEAT if work.scene.plan.tempo > FAST else EIGHTH
    return list(range(-(-cell.gap // grid) * grid, _answered_by(work, cell) - EIGHTH, grid))


def _accents(work: Work, cell: Cell, dice: Random, *, pushes: bool, said: _Said) -> Rhythm:
    """Two or three onsets in the gap; the last on its last beat, or pushed on its last off-beat.

    One alone where the gap has room for no more, or where more would leave too few that are held; none where
    there is nothing new to say. The first waits for a chord that comes in the gap.
    """
    slots = _slots(work, cell) + [cell.end - EIGHTH] * pushes
    if not slots:
        return ()
    beats = [slot for slot in slots[1:] if slot % BEAT == 0]
    last = slots[-1] if pushes or not beats else beats[-1]
    early = [slot for slot in slots if slot < last]
    changes = [unit.start for unit in work.scene.units if early[:1] < [unit.start] <= early[-1:]]
    if changes:
        early = [slot for slot in early if slot >= changes[-1]]
    apart = [slot for slot in early if last - slot >= BEAT] or early
    three = [(*pair, last) for pair in combinations(early, 2)]
    two = [(slot, last) for slot in apart]
    one = [(slot,) for slot in ((last,) if pushes else (last, *early))]
    most = len(_units(work, cell)) if cell.thin else len(slots)
    # Where the melody leads to the tune, the last bar calls for nothing and has three hits of its own.
    full = work.scene.plan.leads_in and said.hits > 0 and work.scene.plan.tempo <= FAST
    many = dice.random() < _THREE and not full and not said.was_full
    for kind in (three, two, one) if many or _is_last_full_answer(work, cell) else (two, one):
        able = [onsets for onsets in kind if len(onsets) <= most and said.can_hold(cell, onsets)]
        new = [onsets for onsets in able if said.is_new(cell, onsets)]
        if new or (able and not said.is_stale):
            return dice.choice(new or able)
    return () if said.is_stale else (last,)


def _is_last_full_answer(work: Work, cell: Cell) -> bool:
    """Whether an answer in a bar of its own is the last but one, and the tune's pickup takes the last.

    It has three accents then: two in every two bars, and hardly any at last, would be few.
    """
    plan, length = work.scene.plan, cell.end - cell.start
    alone = length > plan.bar_ticks and cell.end + length == plan.head_tick
    return alone and plan.pickup_tick < plan.head_tick


def _spanned(cell: Cell, onsets: Rhythm) -> Rhythm:
    """The onsets, with the end of a hit that stands alone: the last of several is short."""
    return (*onsets, cell.end) if len(onsets) == 1 else onsets


def _unit_struck(work: Work, onset: int, *, pushes: bool) -> int:
    """The unit that a hit sounds: the coming one's for a push."""
    return work.scene.unit_at(onset) + pushes
