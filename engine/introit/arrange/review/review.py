"""All rules and measures, asked of one score."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from introit.arrange.review import (
    changes,
    density,
    dynamics,
    ending,
    hands,
    line,
    movers,
    ornaments,
    register,
    rhythm,
    shape,
)
from introit.arrange.review.breach import Breach
from introit.arrange.review.hearing import Hearing
from introit.arrange.score import Score
from introit.library.measures import Measures
from introit.performance import Performance

Rule = Callable[[Hearing], Iterator[Breach]]

RULES: tuple[Rule, ...] = (
    *hands.RULES,
    *register.RULES,
    *changes.RULES,
    *ending.RULES,
    *movers.RULES,
    *density.RULES,
    *rhythm.RULES,
    *line.RULES,
    *shape.RULES,
    *dynamics.RULES,
    *ornaments.RULES,
)
"""Hard rules first, then the measures of what keeps it human."""


def review(score: Score, performance: Performance | None, measures: Measures) -> list[Breach]:
    """Everything that is wrong with a score, by bar and beat; empty for a good one.

    Args:
        score: what is written.
        performance: the same as it sounds, for the measures of loudness; None leaves those out.
        measures: the bounds.
    """
    return breaches_in(Hearing(score, performance, measures))


def breaches_in(hearing: Hearing) -> list[Breach]:
    """The same for a score that has been heard already."""
    found = {breach for rule in RULES for breach in rule(hearing)}
    return sorted(found, key=lambda breach: (breach.bar, breach.beat, breach.rule, breach.text))
