"""The promise that every port keeps. `introit.testing.check_port` is its contract as a test."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from introit.live.cue import Cue
from introit.live.events import PortEvent, Sent


class Port(Protocol):
    """One MIDI connection, out, in or both, opened by somebody else and handed to the loop.

    An immediate port has `lookahead` 0 and sends what it is handed at once. A timestamped port takes cues up
    to `lookahead` ahead and places each on its own frame or tick. `hand`, `withdraw`, `sent`, `heard` and
    `close` are called from the loop's thread only; none of them blocks, and none raises for a port that has
    gone: it reports `Gone` once from `heard` and swallows the rest.

    Attributes:
        name: as the rig calls it.
        lookahead: nanoseconds ahead of sounding that the port wants its cues; 0 for an immediate port.
        latency: nanoseconds from the ideal time to the message leaving, as far as the port knows it.

    A port that wakes the loop for whatever `heard` has, and needs not be asked while nothing is handed to it,
    has an attribute `wakes` which is true. One without it is asked at every heartbeat.
    """

    name: str
    lookahead: int
    latency: int

    def hand(self, cues: Sequence[Cue]) -> None:
        """Takes cues in order. One whose time has passed sounds as soon as possible; order is kept.

        Kept means: by time, then by rank, then as handed; and an off never before an on of its pitch that was
        handed earlier, whatever their times say.
        """

    def withdraw(self, after: int) -> list[Cue]:
        """Takes back what has not sounded and is due later than `after`; returns what was truly withdrawn.

        The rest counts as sounded. An off is never withdrawn without its on, and a lamp never. An immediate
        port returns [].
        """

    def sent(self) -> list[Sent]:
        """What has gone out since the last call, in order, each once."""

    def heard(self) -> list[PortEvent]:
        """What has come in since the last call, in order, each once. `Back` only after `Gone`."""

    def close(self) -> None:
        """Sends nothing more and gives the port back to the system. Safe to call twice."""
