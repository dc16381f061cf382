"""The count-off: clicks on negative ticks, before the intro's first downbeat."""

from __future__ import annotations

from introit.arrange.line_up import ClickSound
from introit.arrange.score import CLICK
from introit.performance import PlayedNote
from introit.theory.meter import Meter
from introit.units import TICKS_PER_QUARTER

CLICK_PITCH = 37
"""Side stick in General MIDI's percussion map ([GM-P])."""
HAT_PITCH = 44
"""Pedal hi-hat in General MIDI's percussion map ([GM-P])."""
CLICK_LENGTH = TICKS_PER_QUARTER // 8
DEFAULT_LEVEL = 88
ACCENT = 20

# All bars but the last are counted in the meter's larger pulse: "1 - 2 - | 1 2 3 4" ([CO1]). In 3/4
# on one, in 5/4 on one and four (its 3+2): common practice, no source.
_LARGE_PULSE = {3: (0,), 4: (0, 2), 5: (0, 3)}

# The back beats: 2 and 4; in 3/4 on 2 and 3, in 5/4 on 2 and 5, where the foot has the hat when light time is
# played. Common practice, no source.
_BACK_BEATS = {3: (1, 2), 4: (1, 3), 5: (1, 4)}


def count_off(
    meter: Meter, bars: int, *, level: int = DEFAULT_LEVEL, sound: ClickSound = ClickSound.BEATS
) -> list[PlayedNote]:
    """What is heard of so many bars; nothing for 0.

    Args:
        meter: the tune's.
        bars: 0 or more.
        level: velocity of a plain click, 1 to 127.
        sound: clicks, the 1 of a bar accented and the last bar with every beat; or hat and side stick
            together on the back beats of every bar.
    """
    if sound is ClickSound.TWO_AND_FOUR:
        return _on_back_beats(meter, bars, level=level)
    notes: list[PlayedNote] = []
    for bar in range(bars):
        beats = range(meter.beats) if bar == bars - 1 else _LARGE_PULSE[meter.beats]
        for beat in beats:
            velocity = level if beat else min(127, level + ACCENT)
            notes.append(_struck((bar - bars) * meter.beats + beat, CLICK_PITCH, velocity))
    return notes


def _on_back_beats(meter: Meter, bars: int, *, level: int) -> list[PlayedNote]:
    return [
        _struck((bar - bars) * meter.beats + beat, pitch, level)
        for bar in range(bars)
        for beat in _BACK_BEATS[meter.beats]
        for pitch in (CLICK_PITCH, HAT_PITCH)
    ]


def _struck(beat: int, pitch: int, velocity: int) -> PlayedNote:
    """A stroke on a beat, counted from the intro's first downbeat."""
    onset = beat * TICKS_PER_QUARTER
    return PlayedNote(onset, onset + CLICK_LENGTH, onset, CLICK, pitch, velocity)
