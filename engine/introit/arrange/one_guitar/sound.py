"""A guitar alone has one sound: bass note and inner voices go where the melody goes."""

from __future__ import annotations

from dataclasses import replace

from introit.arrange.legal import ChannelOf, legal
from introit.arrange.score import BASS, COMP, MELODY, PEDAL
from introit.performance import Performance

_OF_THE_GUITAR = frozenset({COMP, BASS, PEDAL})


def one_sound(performance: Performance, channel_of: ChannelOf) -> Performance:
    """The performance with everything that the guitar plays in the melody's part; the click stays its own.

    Args:
        performance: of a guitar alone.
        channel_of: part number to (output, channel).
    """
    moved = (
        note._replace(part=MELODY) if note.part in _OF_THE_GUITAR else note for note in performance.notes
    )
    return replace(performance, notes=legal(moved, channel_of))
