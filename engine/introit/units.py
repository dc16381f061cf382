"""The one place of conversions between musical time, clock time and what MIDI counts.

Score time is integer ticks, 960 a quarter note; clock time is integer nanoseconds. Tempo is in quarter
notes a minute (bpm), kept to hundredths, so that every conversion is exact in integers.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

TICKS_PER_QUARTER = 960
NS_PER_SECOND = 1_000_000_000
NS_PER_MS = 1_000_000
NS_PER_MINUTE = 60 * NS_PER_SECOND

TEMPO_MIN = 30
TEMPO_MAX = 400
"""Slower than 30 quarter notes a minute, a beat is hard to follow (gaps over 2 s); the upper end is ours."""


def exact_tempo(bpm: float) -> Fraction:
    """A tempo in quarter notes a minute, rounded to hundredths so that arithmetic with it is exact.

    Raises:
        ValueError: if the tempo is not a number within 30 to 400.
    """
    if not TEMPO_MIN <= bpm <= TEMPO_MAX:  # also catches NaN
        raise ValueError(f"tempo is {bpm!r}; allowed is {TEMPO_MIN} to {TEMPO_MAX} quarter notes a minute")
    return Fraction(round(bpm * 100), 100)


def ns_per_tick(bpm: float) -> Fraction:
    """Nanoseconds that one tick lasts at a tempo in quarter notes a minute, exactly."""
    return Fraction(NS_PER_MINUTE, TICKS_PER_QUARTER) / exact_tempo(bpm)


def ticks(quarters: Fraction | int) -> int:
    """Ticks in so many quarter notes, rounded to the nearest tick (a third of a quarter is 320)."""
    return round(quarters * TICKS_PER_QUARTER)


@lru_cache(maxsize=1024)
def ticks_from_ms(milliseconds: float, bpm: float) -> int:
    """Ticks nearest to a length in milliseconds at a tempo."""
    return round(milliseconds * NS_PER_MS / ns_per_tick(bpm))


def microseconds_per_quarter(bpm: float) -> int:
    """What a Standard MIDI File's Set Tempo event holds: microseconds a quarter, in 24 bits."""
    return round(Fraction(60_000_000) / exact_tempo(bpm))
