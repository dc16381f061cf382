"""Another tempo for what plays: the same timeline with other paces from a tick on. Pure."""

from __future__ import annotations

from fractions import Fraction
from typing import Final, NamedTuple

from introit.live.timeline import HELD, Timeline
from introit.units import TICKS_PER_QUARTER

RAMP_STEPS: Final = 8
"""In so many steps a beat goes over from one tempo to another: 5 a minute at 120 change by 0.6 each."""


class Pace(NamedTuple):
    """From a tick on, so many nanoseconds a tick."""

    tick: int
    pace: Fraction


def pace_at(timeline: Timeline, tick: int) -> Fraction | None:
    """The pace at a tick; None while time is held there."""
    before = [segment for segment in timeline.segments if segment.tick <= tick]
    return (before[-1] if before else timeline.segments[0]).pace


def ramp(tick: int, before: Fraction, after: Fraction) -> list[Pace]:
    """The paces of the beat in which one goes over into another, beginning at a tick."""
    length = TICKS_PER_QUARTER // RAMP_STEPS
    change = (after - before) / RAMP_STEPS
    return [Pace(tick + step * length, before + change * (step + 1)) for step in range(RAMP_STEPS)]


def paced(timeline: Timeline, paces: list[Pace], *, arrived: bool) -> Timeline:
    """The timeline with other paces; where time is held it still is.

    Args:
        timeline: what the paces are set on; not held before the first of them.
        paces: ordered by tick.
        arrived: True while time stands still; then nothing changes until it goes on.
    """
    last = timeline.segments[-1]
    held = last.pace is HELD
    if held and arrived:
        return timeline
    if held:
        timeline = Timeline(timeline.segments[:-1])
    for tick, pace in paces:
        if not held or tick < last.tick:
            timeline = timeline.retime(tick, pace)
    return timeline.hold(last.tick) if held else timeline
