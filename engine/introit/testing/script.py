"""What a foot and a hand play into a rehearsal."""

from __future__ import annotations

from introit.live.messages import control, note_off, note_on
from introit.units import NS_PER_MS

Script = list[tuple[int, bytes]]
"""Messages in order of time, as (nanosecond, bytes)."""


def feet(*presses: int, down_ms: int = 60) -> Script:
    """A momentary foot-switch (controller 64, channel 1), pressed at each of these milliseconds.

    Args:
        presses: when the foot goes down, in milliseconds.
        down_ms: how long it stays down.
    """
    return [
        (ms * NS_PER_MS, control(0, 64, value))
        for press in presses
        for ms, value in ((press, 127), (press + down_ms, 0))
    ]


def key(ms: int, pitch: int) -> Script:
    """A note of 50 ms on channel 1, struck at a millisecond: a key note where the pitch is in the zone."""
    return [(ms * NS_PER_MS, note_on(0, pitch, 90)), ((ms + 50) * NS_PER_MS, note_off(0, pitch))]
