"""Low-interval limits: how low the lower of two notes may lie before their interval turns to mud.

The stricter of two printed tables: a retailer's glossary [LI-A]
(sweetwater.com/insync/low-interval-limit) and the limits in a general music library [LI-B]; the ninths and
tenths are in [LI-B] alone. They apply to any two notes inside a voicing ([LI-E]) and are guidance, not
absolutes. The octave is unrestricted in practice ([LI-F]).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

LOW_INTERVAL_LIMITS: dict[int, int] = {
    1: 52,  # minor second: E3
    2: 51,  # major second: Eb3
    3: 48,  # minor third: C3
    4: 47,  # major third: B2
    5: 46,  # fourth: Bb2
    6: 46,  # tritone: Bb2
    7: 37,  # fifth: C#2
    8: 43,  # minor sixth: G2
    9: 41,  # major sixth: F2
    10: 41,  # minor seventh: F2
    11: 41,  # major seventh: F2
    13: 40,  # minor ninth: E2
    14: 39,  # major ninth: Eb2
    15: 36,  # minor tenth: C2
    16: 34,  # major tenth: Bb1
}
"""Semitones of an interval -> lowest MIDI note (middle C = 60) that its lower voice may have."""


def too_low(lower: int, upper: int) -> bool:
    """True when two MIDI notes lie below the limit of their interval; either may be given first."""
    if lower > upper:
        lower, upper = upper, lower
    return lower < LOW_INTERVAL_LIMITS.get(upper - lower, 0)


def is_muddy(pitches: Sequence[int]) -> bool:
    """True when any two of the MIDI notes lie below the limit of their interval; order does not matter."""
    return any(too_low(one, other) for one, other in combinations(pitches, 2))
