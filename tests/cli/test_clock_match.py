"""Two clocks, matched by what one says and when the other hears it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from introit.cli.clock_match import ClockMatch

MS = 1_000_000


@given(st.integers(-(10**15), 10**15), st.lists(st.integers(0, 30 * MS), min_size=1, max_size=200))
def test_it_is_as_late_as_the_quickest_of_the_last_and_never_early(offset: int, delays: list[int]) -> None:
    match = ClockMatch()
    for beat, delay in enumerate(delays):
        match.hear(beat * 500 * MS, beat * 500 * MS + offset + delay)
    late = match.shared(0) - offset
    assert late == min(delays[-64:])


def test_a_drift_is_followed() -> None:
    """A hundred parts in a million: after ten minutes it would be 60 ms."""
    match = ClockMatch()
    for beat in range(1200):
        ns = beat * 500 * MS
        match.hear(ns, round(ns * 1.0001) + 2 * MS)
    now = 1200 * 500 * MS
    assert abs(match.shared(now) - round(now * 1.0001)) < 6 * MS


def test_before_anything_was_heard_it_is_the_same() -> None:
    match = ClockMatch()
    assert match.shared(7) == 7
    match.hear(0, 5)
    match.forget()
    assert match.shared(7) == 7
