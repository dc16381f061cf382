"""A bar that is tapped after a wait: the held chord rings through the taps, and the head is on the next 1."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from introit.live.messages import note_on
from introit.live.setup import ClockLead
from introit.performance import Wait
from introit.testing import Rehearsal, SketchFront, rehearse, sketch_setup
from introit.testing.script import Script, feet
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

MS = NS_PER_MS
BAR = 4 * TICKS_PER_QUARTER
LAST = Wait(3 * BAR + 1, 4 * BAR, fermata=True)
"""The last of four bars: at 120, from 1 s, it is reached at 7 s."""


def played(script: Script, *, lookahead: int = 0, **changes: Any) -> Rehearsal:
    setup = changes.pop("setup", {})
    fields = {"waits": (LAST,), "tapped_on": True} | changes
    front = SketchFront(changes=fields, bars=4)
    return rehearse(sketch_setup(**setup), front, script, until=30 * NS_PER_SECOND, lookaheads=(lookahead,))


def states(rehearsal: Rehearsal) -> list[tuple[float, str]]:
    return [(round(ns / NS_PER_SECOND, 3), state) for ns, state in rehearsal.states()]


def ends(rehearsal: Rehearsal, channel: int) -> float:
    return max(sent.actual for sent in rehearsal.receivers[0].offs() if sent.data[0] & 15 == channel) / 1e9


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_the_head_is_on_the_downbeat_that_is_tapped(lookahead: int) -> None:
    # Tapped at 100 a minute (600 ms): 1 2 3 4 from 10 s, so the head is at 12.4 s.
    done = played(feet(1000, 10_000, 10_600, 11_200, 11_800), lookahead=lookahead)
    assert states(done) == [
        (1.0, "playing"),
        (7.001, "waiting"),
        (10.0, "tapping"),
        (12.4, "in the tune"),
    ]
    assert ends(done, 1) == pytest.approx(12.4, abs=0.002)  # the chord rings through the taps
    assert not done.receivers[0].sounding
    assert [shown.text for shown in done.shown if shown.what == "note"][-1] == "tapped: 100 a minute"


def test_one_press_alone_leads_nowhere_and_the_chord_rings_on() -> None:
    done = played(feet(1000, 10_000, 20_000, 20_500, 21_000, 21_500))
    assert [state for _, state in states(done)] == [
        "playing",
        "waiting",
        "tapping",
        "waiting",
        "tapping",
        "in the tune",
    ]
    assert states(done)[-1] == (22.0, "in the tune")
    assert ends(done, 1) == pytest.approx(22.0, abs=0.002)


def test_a_fifth_tap_hurts_nothing() -> None:
    done = played(feet(1000, 10_000, 10_600, 11_200, 11_800, 12_390))
    assert states(done)[-1][1] == "in the tune"
    assert states(done)[-1][0] == pytest.approx(12.4, abs=0.05)


def test_a_chord_in_the_middle_goes_on_at_the_tempo_that_was_tapped() -> None:
    wait = Wait(1 * BAR + 1, 2 * BAR, fermata=True)
    done = played(feet(1000, 10_000, 10_600, 11_200, 11_800), waits=(wait,))
    assert states(done)[-2:] == [(12.4, "playing"), (12.4 + 8 * 0.6, "in the tune")]
    bass = [sent.actual / 1e9 for sent in done.receivers[0].ons() if sent.data == note_on(2, 36, 80)]
    assert bass[-8:] == pytest.approx([12.4 + 0.6 * beat for beat in range(8)], abs=1e-3)


def test_out_of_time_the_bar_after_the_last_free_chord_is_tapped() -> None:
    free = tuple(Wait(bar * BAR + 1, (bar + 1) * BAR) for bar in range(2))
    taps = feet(1000, 3000, 5000, 5500, 6000, 6500)
    done = played(taps, waits=free, out_of_time=True)
    assert states(done) == [
        (1.0, "out of time"),
        (5.0, "tapping"),
        (7.0, "playing"),
        (11.0, "in the tune"),
    ]
    assert not done.receivers[0].sounding


def test_a_hold_out_of_time_goes_on_without_taps() -> None:
    free = tuple(Wait(bar * BAR + 1, (bar + 1) * BAR) for bar in range(2))
    done = played([*feet(1000), *feet(3000, down_ms=700)], waits=free, out_of_time=True)
    assert (3.5, "playing") in states(done)
    assert not done.receivers[0].sounding


def test_who_plays_by_our_clock_has_the_tapped_tempo() -> None:
    done = played(feet(1000, 10_000, 10_600, 11_200, 11_800), setup={"lead": ClockLead(port=0, start="head")})
    messages = [(sent.actual, sent.data) for sent in done.receivers[0].messages if sent.data[0] >= 0xF8]
    (start,) = [ns for ns, data in messages if data == b"\xfa"]
    clocks = [ns for ns, data in messages if data == b"\xf8" and ns > start]
    assert clocks[0] == pytest.approx(12.4e9, abs=2e6)
    assert clocks[24] - clocks[0] == pytest.approx(0.6e9, abs=1e6)


def test_before_start_no_clocks_are_heaped_on_the_downbeat_that_was_tapped() -> None:
    taps = feet(1000, 10_000, 10_600, 11_200, 11_800)
    done = played(taps, lookahead=30 * MS, setup={"lead": ClockLead(port=0, start="head")})
    clocks = [sent.actual for sent in done.receivers[0].messages if sent.data == b"\xf8"]
    assert min(later - earlier for earlier, later in pairwise(clocks)) >= 10 * MS


def test_a_count_off_is_tapped_to_its_end_though_a_chord_waits_later() -> None:
    """The fourth tap refines the count; the downbeat of the intro is not that of the wait."""
    taps = feet(1000, 1500, 2000, 2520, 12_000, 12_500, 13_000, 13_500)
    done = played(taps, tapped=True)
    assert [state for _, state in states(done)] == ["tapping", "playing", "waiting", "tapping", "in the tune"]
    assert states(done)[1][0] == pytest.approx(3.03, abs=0.02)
    assert states(done)[-1][0] == pytest.approx(14.0, abs=0.01)
