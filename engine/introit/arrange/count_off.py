"""The count-off: clicks on negative ticks, before the intro's first downbeat."""

from __future__ import annotations

from introit.arrange.score import CLICK
from introit.performance import PlayedNote
from introit.theory.meter import Meter
from introit.units import TICKS_PER_QUARTER

CLICK_PITCH = 37
"""Side stick in General MIDI's percussion map ([GM-P])."""
CLICK_LENGTH = TICKS_PER_QUARTER // 8
DEFAULT_LEVEL = 88
ACCENT = 20

# All bars but the last are counted in the meter's larger pulse: "1 - 2 - | 1 2 3 4" ([CO1]). In 3/4
# on one, in 5/4 on one and four (its 3+2): common practice, no source.
_LARGE_PULSE = {3: (0,), 4: (0, 2), 5: (0, 3)}


def count_off(meter: Meter, bars: int, *, level: int = DEFAULT_LEVEL) -> list[PlayedNote]:
    """Clicks for so many bars; none for 0. The 1 of a bar is accented; the last bar has every beat.

    Args:
        meter: the tune's.
        bars: 0 or more.
        level: velocity of a plain click, 1 to 127.
    """
    notes: list[PlayedNote] = []
    for bar in range(bars):
        beats = range(meter.beats) if bar == bars - 1 else _LARGE_PULSE[meter.beats]
        for beat in beats:
            onset = ((bar - bars) * meter.beats + beat) * TICKS_PER_QUARTER
            velocity = level if beat else min(127, level + ACCENT)
            notes.append(PlayedNote(onset, onset + CLICK_LENGTH, onset, CLICK, CLICK_PITCH, velocity))
    return notes
