"""Touch: when each string of a grip sounds, against the tick the grip is written at."""

from __future__ import annotations

from functools import lru_cache

from introit.units import TICKS_PER_QUARTER, ticks_from_ms

PLUCKED_MS, FINGER_MS = 5.0, 1.2
"""All fingers of a plucked grip, or of one on keys, sound within the first; each after its neighbour by the
second. Common practice, no source."""
MOST_STRUM = TICKS_PER_QUARTER // 8
"""Ticks within which all strings of a strummed chord sound: an eighth of a beat."""
MOST_ROLL = TICKS_PER_QUARTER // 4
"""Ticks that a roll takes at most, however fast the tune."""


@lru_cache(maxsize=256)
def plucked(strings: int, tempo: float) -> tuple[int, ...]:
    """Ticks after the beat of each string of a grip played with the fingers, or on keys, lowest first."""
    together = ticks_from_ms(min(PLUCKED_MS, FINGER_MS * (strings - 1)), tempo)
    return tuple(together * rank // max(1, strings - 1) for rank in range(strings))


@lru_cache(maxsize=4096)
def strummed(
    strings: int, tempo: float, strum_ms: float, *, length: int, up: bool = False
) -> tuple[int, ...]:
    """Ticks after the beat of each string of a strummed grip, lowest first; the first one struck is on it.

    Args:
        strings: how many sound, over 0.
        tempo: quarter notes a minute.
        strum_ms: milliseconds from string to string.
        length: of the grip in ticks; it is struck within a third of it, however short.
        up: True for a stroke from the highest string down.
    """
    gaps = max(1, strings - 1)
    step = min(ticks_from_ms(strum_ms, tempo), min(length // 3, MOST_STRUM) // gaps)
    delays = tuple(step * rank for rank in range(strings))
    return delays[::-1] if up else delays


@lru_cache(maxsize=4096)
def rolled(strings: int, tempo: float, roll_ms: float, *, room: int) -> tuple[int, ...]:
    """Ticks from the beat of each string of a rolled grip, lowest first: before it, the last one on it.

    Without room before the beat it begins there.

    Args:
        strings: how many sound, over 0.
        tempo: quarter notes a minute.
        roll_ms: milliseconds from string to string.
        room: ticks before the beat that are free.
    """
    gaps = max(1, strings - 1)
    step = min(ticks_from_ms(roll_ms, tempo), MOST_ROLL // gaps)
    if room <= 0:
        return tuple(step * rank for rank in range(strings))
    step = min(step, room // gaps)
    return tuple(step * (rank + 1 - strings) for rank in range(strings))
