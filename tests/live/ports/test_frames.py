"""JACK's frames and the clock's nanoseconds. Pure; the frame counter is 32 bits wide (jack/types.h)."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from introit.live.ports.frames import FrameScale, Unwrapper
from introit.units import NS_PER_SECOND

RATES = st.sampled_from([22050, 44100, 48000, 88200, 96000, 192000])
OFFSETS = st.integers(0, 10**17)
FRAMES = st.integers(0, 1 << 44)


@given(RATES, OFFSETS, FRAMES)
def test_a_frame_survives_the_way_to_nanoseconds_and_back(rate: int, offset: int, frame: int) -> None:
    scale = FrameScale(rate, offset)
    assert scale.frame(scale.ns(frame)) == frame


@given(RATES, OFFSETS, st.integers(0, 10**17))
def test_a_nanosecond_falls_on_the_nearest_frame(rate: int, offset: int, ns: int) -> None:
    frame = FrameScale(rate, offset).frame(ns + offset)
    exact = Fraction(ns * rate, NS_PER_SECOND)
    assert abs(frame - exact) <= Fraction(1, 2)


@given(RATES, OFFSETS, FRAMES)
def test_nanoseconds_of_a_frame_are_within_half_a_nanosecond(rate: int, offset: int, frame: int) -> None:
    exact = Fraction(frame * NS_PER_SECOND, rate)
    assert abs(FrameScale(rate, offset).ns(frame) - offset - exact) <= Fraction(1, 2)


@given(st.integers(0, 1 << 40), st.lists(st.integers(-(1 << 20), (1 << 31) - 1), max_size=30))
def test_a_counter_that_wraps_is_followed(start: int, steps: list[int]) -> None:
    true = start % (1 << 32)
    unwrap = Unwrapper(true)
    for step in steps:
        true += step
        assert unwrap(true % (1 << 32)) == true


def test_the_wrap_itself() -> None:
    unwrap = Unwrapper((1 << 32) - 2)
    assert [unwrap(counter) for counter in ((1 << 32) - 1, 0, 1)] == [(1 << 32) - 1, 1 << 32, (1 << 32) + 1]
