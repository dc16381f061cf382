"""The timeline is monotone, its own inverse, and does not drift."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.live.timeline import Timeline
from introit.units import NS_PER_MINUTE, TICKS_PER_QUARTER, ns_per_tick

paces = st.builds(ns_per_tick, st.decimals(30, 400, places=2).map(float))
ticks = st.integers(-10_000, 4_000_000)
moments = st.integers(0, 10**13)


@given(ticks, moments, st.decimals(30, 400, places=2))
def test_an_hour_and_more_is_exact(tick: int, ns: int, tempo: object) -> None:
    exact = Fraction(str(tempo))
    timeline = Timeline.starting(tick, ns, ns_per_tick(float(str(tempo))))
    for quarters in (1, 7, 24_000, 10**6):
        ideal = ns + Fraction(NS_PER_MINUTE) * quarters / exact
        got = timeline.ns(tick + quarters * TICKS_PER_QUARTER)
        assert got is not None
        assert abs(got - ideal) <= Fraction(1, 2)


def test_an_hour_at_a_tempo_that_does_not_divide_has_no_drift() -> None:
    # 132.3 to the minute for 60 minutes is 7938 quarter notes: arithmetic.
    timeline = Timeline.starting(0, 0, ns_per_tick(132.3))
    assert timeline.ns(7938 * TICKS_PER_QUARTER) == 60 * NS_PER_MINUTE


@given(ticks, moments, paces, st.lists(st.tuples(st.integers(0, 5_000), paces), max_size=5))
def test_monotone_and_its_own_inverse(
    start: int, ns: int, pace: Fraction, changes: list[tuple[int, Fraction]]
) -> None:
    timeline = Timeline.starting(start, ns, pace)
    for step, (ahead, other) in enumerate(changes):
        timeline = timeline.retime(start + 1_000 * step + ahead, other)
    sample = range(start - 10, start + 10_000, 97)
    times = [timeline.ns(tick) for tick in sample]
    assert all(a is not None and b is not None and a < b for a, b in pairwise(times))
    for tick in sample:
        at = timeline.ns(tick)
        assert at is not None
        assert timeline.tick(at) == tick
        assert timeline.tick(at - 1) == tick - 1


def test_retiming_keeps_what_has_been_and_drops_a_later_revision() -> None:
    slow, fast = Fraction(1000), Fraction(500)
    timeline = Timeline.starting(0, 0, slow).retime(100, fast)
    assert (timeline.ns(100), timeline.ns(200)) == (100_000, 150_000)
    revised = timeline.retime(50, Fraction(2000))
    assert (revised.ns(50), revised.ns(100)) == (50_000, 150_000)
    assert timeline.ns(200) == 150_000  # the old one is untouched


def test_holding_takes_time_away_until_it_is_released() -> None:
    held = Timeline.starting(0, 1_000, Fraction(10)).hold(100)
    assert (held.ns(99), held.ns(100), held.ns(5_000)) == (1_990, None, None)
    assert (held.tick(1_995), held.tick(10**9)) == (99, 99)
    freed = held.release(50_000, Fraction(20))
    assert (freed.ns(99), freed.ns(100), freed.ns(101)) == (1_990, 50_000, 50_020)
    assert (freed.tick(49_999), freed.tick(50_000)) == (99, 100)
    again = freed.hold(101)
    assert (again.ns(100), again.ns(101)) == (50_000, None)


def test_what_cannot_be_is_refused() -> None:
    held = Timeline.starting(0, 0, Fraction(10)).hold(100)
    with pytest.raises(ValueError, match="before the playing arrived"):
        held.release(999, Fraction(10))
    with pytest.raises(ValueError, match="held at or before"):
        held.retime(100, Fraction(10))
    with pytest.raises(ValueError, match="held at or before"):
        held.hold(200)
    with pytest.raises(ValueError, match="not held"):
        Timeline.starting(0, 0, Fraction(10)).release(5, Fraction(10))
    with pytest.raises(ValueError, match="above 0"):
        Timeline.starting(0, 0, Fraction(0))
