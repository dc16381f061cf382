from __future__ import annotations

from introit.live.ports.bridge import WINDOW_NS, Bridge
from introit.units import NS_PER_MS, NS_PER_SECOND


def test_a_clock_that_goes_in_steps_is_followed_at_its_steps() -> None:
    bridge = Bridge()
    step = 10 * NS_PER_MS
    for here in range(0, NS_PER_SECOND, NS_PER_MS):
        bridge.see(here, 5_000 + here // step * step)
    assert bridge.there(2 * NS_PER_SECOND) == 2 * NS_PER_SECOND + 5_000
    assert bridge.here(bridge.there(123_456)) == 123_456


def test_a_clock_that_drifts_is_never_far_away() -> None:
    bridge = Bridge()
    for here in range(0, 3600 * NS_PER_SECOND, 80 * NS_PER_MS):
        there = here - here // 10_000  # 100 millionths slower, as cheap crystals are (no source)
        bridge.see(here, there)
        assert 0 <= bridge.there(here) - there <= WINDOW_NS // 10_000 + 1


def test_a_clock_that_stood_still_is_caught_up_with() -> None:
    bridge = Bridge()
    bridge.see(0, 0)
    late = 50 * NS_PER_MS
    for here in range(NS_PER_MS, 2 * WINDOW_NS, 80 * NS_PER_MS):
        bridge.see(here, here - late)
    assert bridge.there(2 * WINDOW_NS) == 2 * WINDOW_NS - late


def test_what_was_seen_before_it_was_set_anew_is_forgotten() -> None:
    bridge = Bridge()
    bridge.see(0, NS_PER_SECOND)
    bridge.forget()
    bridge.see(1, 1)
    assert bridge.there(5) == 5
