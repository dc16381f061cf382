"""One arc: what the bars' levels are shifted by, so that none falls back between two louder ones."""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.plan import Plan
from introit.arrange.score import RIDE, ScoreNote, Touch
from introit.performance import PARTS

MOST_DIP = 4.0
"""Velocity units that a bar may lie under louder ones on both sides: heard as one arc still (judgement)."""
FEWEST_BARS = 4
"""A shorter intro has no room for a dip that anybody would hear as one."""
_ROUNDS = 4


def in_one_arc(notes: Sequence[ScoreNote], levels: Sequence[float], plan: Plan) -> list[float]:
    """What is added to each note's level, in velocity.

    A bar's level is the mean of its pitched notes, each against the mean of its own part.

    Args:
        notes: ordered by onset.
        levels: of each, as their places in bar and intro make them.
        plan: where bars begin.
    """
    bars = [min(max(0, note.onset) // plan.bar_ticks, plan.bars - 1) for note in notes]
    shifted = [0.0] * plan.bars
    for _ in range(_ROUNDS):
        total = [level + shifted[bar] for level, bar in zip(levels, bars, strict=True)]
        means = _means(notes, total, bars, plan)
        if len(means) < FEWEST_BARS:
            break
        excess = _excess([mean for _, mean in means])
        if not any(excess):
            break
        for (bar, _), more in zip(means, excess, strict=True):
            shifted[bar] -= more
    return [shifted[bar] for bar in bars]


def _means(
    notes: Sequence[ScoreNote], levels: Sequence[float], bars: Sequence[int], plan: Plan
) -> list[tuple[int, float]]:
    """The bars with notes, and the level of each; ornaments are soft by trade, and left out."""
    sums, counts = [0.0] * len(PARTS), [0] * len(PARTS)
    for note, level in zip(notes, levels, strict=True):
        if note.touch is not Touch.ORNAMENT:
            sums[note.part] += level
            counts[note.part] += 1
    usual = [total / max(1, count) for total, count in zip(sums, counts, strict=True)]
    over, heard = [0.0] * plan.bars, [0] * plan.bars
    for note, level, bar in zip(notes, levels, bars, strict=True):
        if note.part < RIDE and note.touch is not Touch.ORNAMENT:
            over[bar] += level - usual[note.part]
            heard[bar] += 1
    return [(bar, over[bar] / heard[bar]) for bar in range(plan.bars) if heard[bar]]


def _excess(levels: Sequence[float]) -> list[float]:
    """By how much each level must fall so that none lies deeper between two louder ones than it may.

    The quieter side of a dip gives way: there the arc has not come to its top yet, or is past it.
    """
    excess = [0.0] * len(levels)
    for at in range(1, len(levels) - 1):
        before, after = range(at), range(at + 1, len(levels))
        side = min(before, after, key=lambda bars: max(levels[bar] for bar in bars))
        for bar in side:
            excess[bar] = max(excess[bar], levels[bar] - levels[at] - MOST_DIP)
    return excess
