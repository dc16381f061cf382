"""Light time: cymbal and foot as the feel has them, thinner under a pickup, silent from the head on."""

from __future__ import annotations

from collections.abc import Iterator

from introit.arrange.scene import Scene
from introit.arrange.score import RIDE, ScoreNote
from introit.library.model import Feel, Tap, TimeLine
from introit.units import TICKS_PER_QUARTER, ticks

KEYS = {"ride": 51, "bell": 53, "hat": 44, "closed": 42, "stick": 37}
"""Instrument to its key in General MIDI's percussion map ([GM-P])."""
STROKE = TICKS_PER_QUARTER // 8
"""Length of a stroke; a cymbal rings as long as it likes."""
TURN = 4
"""Bars to a phrase; the last of each differs a little (common practice, no source)."""


def ride_notes(scene: Scene, feel: Feel) -> list[ScoreNote]:
    """Light time for the whole intro, ordered by onset; none where the feel has none in the meter.

    Under the pickup only strokes on the beat are left.
    """
    plan = scene.plan
    time = feel.time.get(plan.meter, ())
    clear = plan.pickup_tick
    notes = []
    for bar in range(plan.bars):
        start = bar * plan.bar_ticks
        for instrument, taps in _bar(scene, time, bar):
            key = KEYS[instrument]
            for tap in taps:
                onset = start + ticks(tap.position)
                if onset < clear or not onset % TICKS_PER_QUARTER:
                    harmony = plan.chords[plan.at(onset)].onset
                    notes.append(ScoreNote(onset, STROKE, harmony, RIDE, key, tap.accent and onset < clear))
    return sorted(notes, key=lambda note: (note.onset, note.pitch))


def _bar(scene: Scene, time: tuple[TimeLine, ...], bar: int) -> Iterator[tuple[str, tuple[Tap, ...]]]:
    """What each instrument plays in a bar."""
    for line in time:
        if line.fourth:
            continue
        others = [other for other in time if other.fourth and other.instrument == line.instrument]
        if others and bar % TURN == TURN - 1:
            yield line.instrument, scene.dice("ride", line.instrument, bar).choice(others).bars[0]
        else:
            yield line.instrument, line.bars[(bar + scene.side) % len(line.bars)]
