"""What is left out of a pass: parts in turn, or a melody that fades until the player is alone."""

from __future__ import annotations

from introit.practice.goal import Goal
from introit.practice.passes import FULL

_GOES_WITH = {"bass": ("bass", "pedal")}
"""The pedal point is the bass player's."""


def turns(goal: Goal) -> int:
    """How many passes go by until all that goes in turn has had its turn; 1 where nothing does."""
    hidden = len(goal.hide.parts) if goal.hide and goal.hide.in_turn else 1
    return max(hidden, goal.fade, 1)


def hidden(goal: Goal, turn: int) -> frozenset[str]:
    """The parts that send nothing in a pass. turn: passes before it, from 0."""
    if goal.hide is None:
        return frozenset()
    parts = goal.hide.parts
    out = (parts[turn % len(parts)],) if goal.hide.in_turn else parts
    return frozenset(part for name in out for part in _GOES_WITH.get(name, (name,)))


def melody_level(goal: Goal, turn: int) -> int:
    """The melody's level in percent: all of it in the first pass, none from the last of the fade on."""
    if not goal.fade:
        return FULL
    return round(FULL * max(goal.fade - 1 - turn, 0) / (goal.fade - 1))
