"""The ways to comp a bar as columns of numbers, each with the price of its place in the phrase."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from introit.arrange.comping.bar import NEVER, Option, Shape, options
from introit.arrange.comping.figure import AIR, CARRIED, MOVED, THINNED, WRITTEN, Vocabulary

PHRASE = 4
"""Bars in a phrase; its halves are phrases of two."""

# What a bar costs by where it comes from, in each bar of a phrase: stated, varied, stated again, closed.
# Judgement, no source.
_ROLES: dict[int, tuple[float, float, float, float]] = {
    WRITTEN: (0.0, 0.5, 0.2, 0.6),
    MOVED: (1.4, 0.2, 0.8, 0.5),
    THINNED: (1.2, 0.5, 0.8, 0.2),
    CARRIED: (1.6, 0.3, 0.8, 0.3),
    AIR: (3.0, 1.2, 1.5, 0.4),
}
_OUT_OF_TURN = 0.4
_WISHED = (2.0, 2.0, 2.0, 1.3)
_FROM_WISHED = 0.45

Numbers = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]


class Task(NamedTuple):
    """One bar to be comped.

    Attributes:
        shape: how it lies.
        vocabulary: of its rhythm; None where the comp has nothing to do.
        number: bars from the beginning of its passage.
    """

    shape: Shape
    vocabulary: Vocabulary | None
    number: int


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """The options of a bar, one column each; see `Option`."""

    choices: tuple[Option, ...]
    price: Numbers
    mask: Counts
    hits: Counts
    gaps: Counts
    clashes: Counts
    holds: Counts
    waits: Counts
    entry: Counts
    pushes: Counts
    leads: npt.NDArray[np.bool_]
    leans: npt.NDArray[np.bool_]
    tail: Counts
    after: Counts
    first: npt.NDArray[np.bool_]
    free: bool


_NOTHING = Option((), AIR, -1, 0, 0, 0, 0, 0, NEVER, NEVER, 0, leads=False, leans=False, tail=0, after=0)


@lru_cache(maxsize=8192)
def table_of(shape: Shape, vocabulary: Vocabulary | None, number: int) -> Table:
    """The options of a bar that stands so many bars from its passage's beginning.

    Those of a steady rhythm cost and count nothing: it is kept, whatever it does to the shares.
    """
    if vocabulary is None:
        choices: tuple[Option, ...] = (_NOTHING,)
    elif vocabulary.steady:
        turn = number % vocabulary.bars
        choices = tuple(option for option in options(shape, vocabulary) if option.turn == turn)
    else:
        choices = options(shape, vocabulary)
    free = vocabulary is not None and not vocabulary.steady
    columns = zip(*(option[4:] for option in choices), strict=True)
    mask, gaps, clashes, holds, waits, entry, pushes, leads, leans, tail, after = map(np.array, columns)
    hits = np.array([len(option.cells) for option in choices])
    zero = 0 * hits
    never_the_same = zero - 3 - number
    return Table(
        choices=choices,
        price=np.array([_price(option, vocabulary, number) for option in choices]),
        mask=mask if free else never_the_same,
        hits=hits if free else zero,
        gaps=gaps if free else zero,
        clashes=clashes if free else zero,
        holds=holds if free else zero,
        waits=waits,
        entry=entry,
        pushes=pushes if free else zero,
        leads=leads,
        leans=leans,
        tail=tail,
        after=after,
        first=(mask & 1).astype(bool),
        free=free,
    )


def _price(option: Option, vocabulary: Vocabulary | None, number: int) -> float:
    if vocabulary is None or vocabulary.steady:
        return option.price
    role = number % PHRASE
    out_of_turn = option.kind == WRITTEN and option.turn != number % vocabulary.bars
    price = option.price + _ROLES[option.kind][role] + _OUT_OF_TURN * out_of_turn
    return price + _FROM_WISHED * abs(len(option.cells) - _WISHED[role])
