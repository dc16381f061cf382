"""Loudness against what ITU-R BS.1770 and EBU Tech 3341 say that a meter must show (values from memory)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.signal import lfilter

from introit.export import wav_level
from introit.export.wav_level import CEILING_DB, TARGET_LUFS, gain_for, loudness, peak_db

RATES = [44_100, 48_000]
# BS.1770-4, tables 1 and 2, for 48,000 frames a second: b, then a.
SHELF = (
    [1.53512485958697, -2.69169618940638, 1.19839281085285],
    [1.0, -1.69065929318241, 0.73248077421585],
)
HIGH_PASS = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621])


def sine(rate: int, hertz: float, dbfs: float, seconds: float) -> np.ndarray:
    time = np.arange(round(rate * seconds)) / rate
    return 10 ** (dbfs / 20) * np.sin(2 * np.pi * hertz * time)


def test_the_filters_are_those_of_the_standard() -> None:
    for found, expected in (
        (wav_level._high_shelf(48_000), SHELF),
        (wav_level._high_pass(48_000), HIGH_PASS),
    ):
        for ours, theirs in zip(found, expected, strict=True):
            assert ours == pytest.approx(theirs, abs=1e-8)


def test_they_are_applied_as_another_library_does() -> None:
    sound = np.random.default_rng(4).normal(0, 0.1, (30_001, 2))
    expected = lfilter(*HIGH_PASS, lfilter(*SHELF, sound, axis=0), axis=0)
    assert wav_level._weighted(sound, 48_000) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("rate", RATES)
def test_a_sine_at_full_scale_in_one_channel_reads_3_01_below_zero(rate: int) -> None:
    sound = np.stack([sine(rate, 997, 0, 3), np.zeros(rate * 3)], axis=1)
    assert loudness(sound, rate) == pytest.approx(-3.01, abs=0.01)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("level", [-23.0, -33.0])
def test_a_sine_in_both_channels_reads_its_level(rate: int, level: float) -> None:
    """EBU Tech 3341, cases 1 and 2: 1 kHz in left and right; within 0.1."""
    one = sine(rate, 1000, level, 20)
    assert loudness(np.stack([one, one], axis=1), rate) == pytest.approx(level, abs=0.1)


def test_soft_passages_do_not_count() -> None:
    """EBU Tech 3341, case 4, at a quarter of its length: -72, -36, -23, -36, -72 dBFS read -23."""
    parts = [(-72, 2.5), (-36, 2.5), (-23, 15), (-36, 2.5), (-72, 2.5)]
    one = np.concatenate([sine(48_000, 1000, level, seconds) for level, seconds in parts])
    assert loudness(np.stack([one, one], axis=1), 48_000) == pytest.approx(-23.0, abs=0.1)


def test_silence_and_less_than_a_block_are_no_trouble() -> None:
    assert loudness(np.zeros((48_000, 2)), 48_000) == -math.inf
    assert loudness(np.zeros((0, 2)), 48_000) == -math.inf
    one = sine(48_000, 1000, -23, 0.1)
    assert -31 < loudness(np.stack([one, one], axis=1), 48_000) < -28, "a quarter of a block"


def test_the_gain_goes_to_the_target_and_stops_at_the_ceiling() -> None:
    assert 20 * math.log10(gain_for(TARGET_LUFS - 6, 0.1)) == pytest.approx(6)
    assert peak_db(0.5 * gain_for(TARGET_LUFS - 30, 0.5)) == pytest.approx(CEILING_DB)
    assert gain_for(-math.inf, 0.0) == 1.0
