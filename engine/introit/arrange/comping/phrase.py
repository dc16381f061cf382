"""Which bars follow each other: a phrase states, varies, leaves air and closes. Found all at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, floor
from random import Random

import numpy as np
import numpy.typing as npt

from introit.arrange.comping.bar import NEVER
from introit.arrange.comping.figure import Cell
from introit.arrange.comping.release import wanted
from introit.arrange.comping.table import PHRASE, Counts, Numbers, Table, Task, table_of

VARIANTS = 12
"""So many ways to comp the same bars are told apart; the dice choose among them."""
THIN = 1
"""A bar with at most so many hits leaves air; one in every `PHRASE` does."""
DENSITY = (1.0, 2.5)
"""Fewest and most hits a bar on the average, in swing. Common practice, no source."""
_LEFT_OUT = 2
"""Hits that a guitar alone may have to leave out: so many more than the fewest are planned for it."""
IN_GAPS, ON_MELODY = 0.6, 0.25
"""At least and at most that share of the hits: in the melody's gaps, and on its onsets. Common practice, no
source."""

# Judgement, no source.
_SAME_AGAIN = 0.25
_PUSH_STRUCK_AGAIN = 0.9
_NOISE = 1.1
"""How much the dice may add to a bar's price: less than a hit on the melody costs."""
_WIDTHS = (64, 512)
"""Ways that are followed at once; more where all of the first lead to a bound that is missed."""
_NEVER = 1e6
_BROKEN = 8.0
"""For each hit or bar by which a bound is missed."""


_MOST_HITS = 1024
_HELD_OF = np.array([wanted(hits) for hits in range(_MOST_HITS)])


@dataclass(slots=True)
class _Paths:
    """The ways so far: what each has cost and counted, and its last bars."""

    cost: Numbers
    last: Counts
    before: Counts
    full: Counts
    broken: Counts
    hits: Counts
    gaps: Counts
    clashes: Counts
    holds: Counts
    waits: Counts
    pushes: Counts
    leads: npt.NDArray[np.bool_]
    tail: Counts


@lru_cache(maxsize=4096)
def comped(
    tasks: tuple[Task, ...], *, pushes: tuple[float, float], variant: int
) -> tuple[tuple[Cell, ...], ...]:
    """The cells of each bar.

    Args:
        tasks: the bars, in order.
        pushes: least and most of the changes that are pushed, as shares.
        variant: which of the ways to do it, 0 to `VARIANTS` - 1.
    """
    tables = [table_of(task.shape, task.vocabulary, task.number) for task in tasks]
    random = Random(variant)
    noises = [np.array([random.random() * _NOISE for _ in table.choices]) for table in tables]
    for width in _WIDTHS:
        missed, found = _best(tasks, tables, noises, pushes=pushes, width=width)
        if not missed:
            break
    return tuple(reversed(found))


def _best(
    tasks: Sequence[Task],
    tables: Sequence[Table],
    noises: Sequence[Numbers],
    *,
    pushes: tuple[float, float],
    width: int,
) -> tuple[float, list[tuple[Cell, ...]]]:
    """What the best way misses of what is asked of the whole, and its bars, the last one first."""
    changes, done = max(1, sum(map(_changes, tasks))), 0
    least, most = _pushed(changes, pushes)
    paths = _start()
    steps: list[tuple[Counts, Counts]] = []
    for task, table, noise in zip(tasks, tables, noises, strict=True):
        done += _changes(task)
        pace = (least * done / changes, most * done / changes)
        paths, parents, chosen = _followed(paths, table, noise, pace=pace, width=width)
        steps.append((parents, chosen))
    bounds = _bounds(paths, tasks, pushes=(least, most))
    index = int(np.argmin(paths.cost + bounds))
    return float(bounds[index] + paths.broken[index]), _traced(steps, tables, index)


def _traced(
    steps: Sequence[tuple[Counts, Counts]], tables: Sequence[Table], index: int
) -> list[tuple[Cell, ...]]:
    """The chosen cells, the last bar's first."""
    found = []
    for (parents, chosen), table in zip(reversed(steps), reversed(tables), strict=True):
        found.append(table.choices[chosen[index]].cells)
        index = int(parents[index])
    return found


def _changes(task: Task) -> int:
    """Changes that a bar could push: those inside it, and the one after it."""
    if task.vocabulary is None or task.vocabulary.steady:
        return 0
    return sum(chord > 0 for chord in task.shape.chords) + task.shape.change_after


def _start() -> _Paths:
    zero = np.zeros(1, dtype=np.int64)
    return _Paths(
        cost=np.zeros(1),
        last=zero - 2,
        before=zero - 1,
        full=zero,
        broken=zero,
        hits=zero,
        gaps=zero,
        clashes=zero,
        holds=zero,
        waits=zero + NEVER + 1,
        pushes=zero,
        leads=zero.astype(bool),
        tail=zero,
    )


def _followed(
    paths: _Paths, table: Table, noise: Numbers, *, pace: tuple[float, float], width: int
) -> tuple[_Paths, Counts, Counts]:
    """The best ways one bar further, with the way that each came from and the option that it took."""
    cost = paths.cost[:, None] + (table.price + noise)[None, :]
    cost += _NEVER * (paths.tail[:, None] != table.after[None, :])
    cost += _NEVER * (table.leans[None, :] & ~paths.leads[:, None])
    cost += _PUSH_STRUCK_AGAIN * (paths.leads[:, None] & table.first[None, :])
    same = paths.last[:, None] == table.mask[None, :]
    again = same & (paths.last == paths.before)[:, None]
    full = np.where((table.hits > THIN)[None, :], paths.full[:, None] + 1, 0) * table.free
    broken = again.astype(np.int64) + (full >= PHRASE)
    cost += _SAME_AGAIN * same + _BROKEN * broken
    pushes = paths.pushes[:, None] + table.pushes[None, :]
    late = np.maximum(0, pace[0] - pushes) + np.maximum(0, pushes - ceil(pace[1]))
    order = np.argsort((cost + _BROKEN / 2 * late).ravel(), kind="stable")[:width]
    parents, chosen = np.divmod(order, len(table.choices))
    return (
        _Paths(
            cost=cost.ravel()[order],
            last=table.mask[chosen],
            before=paths.last[parents],
            full=full.ravel()[order],
            broken=paths.broken[parents] + broken.ravel()[order],
            hits=paths.hits[parents] + table.hits[chosen],
            gaps=paths.gaps[parents] + table.gaps[chosen],
            clashes=paths.clashes[parents] + table.clashes[chosen],
            holds=paths.holds[parents] + table.holds[chosen] + (paths.waits[parents] <= table.entry[chosen]),
            waits=table.waits[chosen],
            pushes=pushes.ravel()[order],
            leads=table.leads[chosen],
            tail=table.tail[chosen],
        ),
        parents,
        chosen,
    )


def _pushed(changes: int, shares: tuple[float, float]) -> tuple[int, int]:
    """Fewest and most pushes among so many changes; where none fits both shares, what lies next to them."""
    least, most = sorted((ceil(shares[0] * changes), floor(shares[1] * changes)))
    return least, most


def _bounds(paths: _Paths, tasks: Sequence[Task], *, pushes: tuple[int, int]) -> Numbers:
    """What the ways miss of all that is asked of the whole, as a price; no figure goes on in the head."""
    bars = sum(task.vocabulary is not None and not task.vocabulary.steady for task in tasks)
    hits = paths.hits
    least, most = pushes
    missed = np.maximum(0, np.ceil(IN_GAPS * hits) - paths.gaps)
    missed += np.maximum(0, paths.clashes - np.floor(ON_MELODY * hits))
    missed += np.maximum(0, _HELD_OF[hits] - paths.holds)
    missed += np.maximum(0, least - paths.pushes) + np.maximum(0, paths.pushes - most)
    alone = bars > 0 and tasks[0].shape.one_pair_of_hands
    fewest = ceil(DENSITY[0] * bars) + _LEFT_OUT * alone
    missed += np.maximum(0, fewest - hits) + np.maximum(0, hits - floor(DENSITY[1] * bars))
    price: Numbers = _BROKEN * missed + _NEVER * (paths.tail != 0)
    return price
