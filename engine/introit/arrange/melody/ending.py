"""Where the melody stops: by beat 3 of the last bar, or on the way to the tune's first note."""

from __future__ import annotations

from typing import NamedTuple

from introit.arrange.plan import Plan
from introit.units import TICKS_PER_QUARTER

CLEAR = 2 * TICKS_PER_QUARTER
"""The tune's first note is not sounded so long before it comes: it would be doubled, and spent."""


class Goal(NamedTuple):
    """The tune's first melody note.

    Attributes:
        tick: at which the tune's melody begins: the head's downbeat, or its pickup.
        pitch_class: 0 to 11.
    """

    tick: int
    pitch_class: int


def melody_limit(plan: Plan) -> int:
    """Tick by which the melody is out: beat 3 of the last bar (4 in 5/4), and before the tune's pickup.

    A pickup that leaves no room to lead to its first note has the whole of that bar.
    """
    beats = 3 if plan.meter.beats == 5 else 2
    last_bar = plan.head_tick - plan.bar_ticks
    if plan.tune.first_note is not None and not plan.leads_in:
        return last_bar
    return min(last_bar + beats * TICKS_PER_QUARTER, tune_enters(plan))


def tune_enters(plan: Plan) -> int:
    """Tick at which the tune's own melody begins."""
    return plan.pickup_tick


def goal_of(plan: Plan) -> Goal | None:
    """The tune's first melody note, where the melody leads to it."""
    name = plan.tune.first_note
    if name is None or not plan.leads_in:
        return None
    return Goal(tune_enters(plan), plan.key.degree_from_text(name).pitch_class)
