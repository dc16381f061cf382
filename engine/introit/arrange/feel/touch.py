"""Touch: when each string of a grip sounds, against the tick the grip is written at."""

from __future__ import annotations

from introit.library.model import Feel
from introit.units import TICKS_PER_QUARTER, ticks_from_ms

PLUCKED_MS, FINGER_MS = 5.0, 1.2
"""All fingers of a plucked grip, or of one on keys, sound within the first; each after its neighbour by the
second. Common practice, no source."""
MOST_STRUM = TICKS_PER_QUARTER // 8
"""Ticks within which all strings of a strummed chord sound: an eighth of a beat."""
MOST_ROLL = TICKS_PER_QUARTER // 4
"""Ticks that a roll takes at most, however fast the tune."""


def plucked(strings: int, tempo: float) -> list[int]:
    """Ticks after the beat of each string of a grip played with the fingers, or on keys, lowest first."""
    together = ticks_from_ms(min(PLUCKED_MS, FINGER_MS * (strings - 1)), tempo)
    return [together * rank // max(1, strings - 1) for rank in range(strings)]


def strummed(strings: int, tempo: float, feel: Feel, *, length: int, up: bool = False) -> list[int]:
    """Ticks after the beat of each string of a strummed grip, lowest first; the first one struck is on it.

    Args:
        strings: how many sound, over 0.
        tempo: quarter notes a minute.
        feel: says how fast.
        length: of the grip in ticks; it is struck within a third of it, however short.
        up: True for a stroke from the highest string down.
    """
    gaps = max(1, strings - 1)
    step = min(ticks_from_ms(feel.strum_ms, tempo), min(length // 3, MOST_STRUM) // gaps)
    delays = [step * rank for rank in range(strings)]
    return delays[::-1] if up else delays


def rolled(strings: int, tempo: float, feel: Feel, *, room: int) -> list[int]:
    """Ticks from the beat of each string of a rolled grip, lowest first: before it, the last one on it.

    Without room before the beat it begins there.

    Args:
        strings: how many sound, over 0.
        tempo: quarter notes a minute.
        feel: says how fast.
        room: ticks before the beat that are free.
    """
    gaps = max(1, strings - 1)
    step = min(ticks_from_ms(feel.roll_ms, tempo), MOST_ROLL // gaps)
    if room <= 0:
        return [step * rank for rank in range(strings)]
    step = min(step, room // gaps)
    return [step * (rank - gaps) if strings > 1 else 0 for rank in range(strings)]
