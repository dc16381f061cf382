"""A cue: one MIDI message at one nanosecond. And its order among others."""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple


class Rank(IntEnum):
    """Order of messages that share an instant: a note-off never lands behind the next note-on.

    The clock goes before all: on a wire of 31,250 baud six note-offs in front of it would make it 6 ms late,
    and an off that waits for one byte is 0.3 ms late.

    A lamp goes last: light may wait, and whatever its message is, it is no sound. So nobody owes it an off,
    and no silence takes it back.
    """

    REAL_TIME = -1
    OFF = 0
    CONTROL = 1
    PROGRAM = 2
    ON = 3
    LAMP = 4


class Cue(NamedTuple):
    """One message for one port, ordered by (ns, rank, sequence), never by its bytes.

    Attributes:
        ns: when it is to sound, in the session clock's nanoseconds.
        rank: a `Rank`.
        sequence: grows with every cue a session makes; unique, so order is total.
        data: one complete MIDI message.
    """

    ns: int
    rank: int
    sequence: int
    data: bytes
