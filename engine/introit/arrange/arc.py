"""Where the highest note of an intro belongs: late, but not last."""

from __future__ import annotations

from introit.arrange.plan import Plan

EARLIEST, LATEST = 0.60, 0.85
"""Shares of what is its own (`Plan.arc_tick`), and of its whole length. Common practice, no source."""


def peak_span(plan: Plan) -> tuple[float, float]:
    """First and last tick at which the highest note may come."""
    return EARLIEST * plan.arc_tick, LATEST * plan.head_tick
