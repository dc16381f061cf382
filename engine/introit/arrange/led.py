"""What of an intro is led by the foot: the chords that wait, and the bars that go round.

`form.choose_form` has seen to it that what the tune names is there.
"""

from __future__ import annotations

from introit.arrange.plan import Plan, PlannedChord
from introit.library.leading import BarBeat
from introit.units import TICKS_PER_QUARTER


def waiting_chords(plan: Plan) -> list[PlannedChord]:
    """The chords that wait: those of the bars out of time, and the held one; in order.

    One that is not struck, since it begins in the tune's pickup, does not wait.
    """
    until = out_of_time_until(plan)
    held = held_chord(plan)
    if not until and held is None:
        return []
    return [chord for chord in _struck(plan) if chord.onset < until or chord is held]


def out_of_time_until(plan: Plan) -> int:
    """Tick from which chords are played in time; 0 where all are, the head's or later where none is."""
    leading = plan.tune.leading
    bars = leading.colla_voce * plan.bar_ticks
    return bars if leading.in_time is None else min(bars, _tick_of(leading.in_time, plan))


def held_chord(plan: Plan) -> PlannedChord | None:
    """The chord that waits in time, too, where the tune asks for it.

    The one that sounds at the place it names (of those that are struck); else the last dominant, or without
    any the last chord.
    """
    leading = plan.tune.leading
    if not leading.hold:
        return None
    struck = _struck(plan)
    if leading.held is not None:
        place = _tick_of(leading.held, plan)
        return [chord for chord in struck if chord.onset <= place][-1]
    return ([chord for chord in struck if chord.chord.is_dominant] or struck)[-1]


def vamp_of(plan: Plan) -> tuple[int, int] | None:
    """First tick and end of the bars that go round: those that the tune names, or all; None where none do."""
    leading = plan.tune.leading
    if not leading.vamp:
        return None
    if leading.vamp_bars is None:
        return 0, plan.head_tick
    first, last = leading.vamp_bars
    return (first - 1) * plan.bar_ticks, last * plan.bar_ticks


def _tick_of(place: BarBeat, plan: Plan) -> int:
    return (place.bar - 1) * plan.bar_ticks + (place.beat - 1) * TICKS_PER_QUARTER


def _struck(plan: Plan) -> list[PlannedChord]:
    return [chord for chord in plan.chords if plan.strikes(chord)]
