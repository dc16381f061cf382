"""Lateness as figures and as bars of plain text. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

EDGES_MS: Final = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
"""Between one bar and the next; what falls on an edge belongs below it."""
_SHOWN_TO_MS: Final = 1.0
"""Bars up to here are always drawn: an empty one is good news."""
_BAR: Final = 40


def percentile(ordered: Sequence[float], share: float) -> float:
    """The smallest value with at least this share of all at or below it (nearest rank).

    Args:
        ordered: in rising order, at least one.
        share: 0 to 1.
    """
    return ordered[max(0, math.ceil(share * len(ordered)) - 1)]


@dataclass(frozen=True, slots=True)
class Figures:
    """What is to be known of many values, all in milliseconds.

    Attributes:
        count: how many; the rest is 0 where there are none.
        p1, p50, p99: percentiles.
        worst: the greatest.
        over: how many are greater than 1 ms.
    """

    count: int
    p1: float = 0.0
    p50: float = 0.0
    p99: float = 0.0
    worst: float = 0.0
    over: int = 0

    @classmethod
    def of(cls, values: Sequence[float]) -> Figures:
        """The figures of values in any order."""
        ordered = sorted(values)
        if not ordered:
            return cls(0)
        p1, p50, p99 = (percentile(ordered, share) for share in (0.01, 0.5, 0.99))
        return cls(len(ordered), p1, p50, p99, ordered[-1], sum(value > 1.0 for value in ordered))

    @property
    def jitter(self) -> float:
        """How far apart all but the earliest and the latest hundredth are."""
        return self.p99 - self.p1


def counts(values: Sequence[float]) -> list[int]:
    """How many of the values, in milliseconds, belong to each bar: one more than there are edges."""
    bars = [0] * (len(EDGES_MS) + 1)
    for value in values:
        bars[sum(value > edge for edge in EDGES_MS)] += 1
    return bars


def drawn(values: Sequence[float]) -> list[str]:
    """The bars, a line each, at most 79 columns; whatever is not empty has a bar that can be seen."""
    bars = counts(values)
    always = EDGES_MS.index(_SHOWN_TO_MS) + 1
    last = max([always, *(place + 1 for place, count in enumerate(bars) if count)])
    most = max(*bars, 1)
    total = max(len(values), 1)
    return [
        f"{label:>14} ms |{'#' * math.ceil(count / most * _BAR):<{_BAR}}| {count / total:7.2%} {count:>6}"
        for label, count in zip(_labels(), bars[:last], strict=False)
    ]


def _labels() -> list[str]:
    between = [f"{low:g} to {high:g}" for low, high in pairwise(EDGES_MS)]
    return [f"up to {EDGES_MS[0]:g}", *between, f"over {EDGES_MS[-1]:g}"]
