"""What measures in a session's place: messages at exact times through the same loop, the same ports.

It sends nothing that can be heard. Active Sensing (MIDI 1.0, status FE) is one byte that says no more than
that the cable is there; the program sends it all evening. Every port gets it at times of chance, so that no
period of the machine falls in with ours.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from introit.live.cue import Cue, Rank
from introit.live.events import Effect, Event, Gone, Hand, Lost, Quit, Shown
from introit.live.messages import ACTIVE_SENSING
from introit.live.setup import Setup
from introit.live.states import State
from introit.units import NS_PER_MS

SETTLE_NS: Final = 300 * NS_PER_MS
"""Before the first message: a process that has just started is woken late."""
BETWEEN_NS: Final = (5 * NS_PER_MS, 15 * NS_PER_MS)
"""From one message to the next, on one port; longer in proportion where there are more."""


@dataclass(slots=True)
class _Row:
    """One sending port: when it is handed its next message, and how long before that sounds."""

    port: int
    lookahead: int
    hands: int = 0


class Probe:
    """Measures for `Setup.measure_ns`; see `decides.Decides`.

    Each message goes out as a `Hand`, and by how much the loop was late to hand it as a `Shown` (`woke`).

    Args:
        setup: `measure_ns` is above 0.
        lookaheads: of each port.
        seed: of the times.
    """

    state = State.PLAYING
    """No garbage is collected, as while an intro plays."""

    def __init__(self, setup: Setup, lookaheads: Sequence[int], seed: int = 0) -> None:
        self.setup = setup
        self.reason = ""
        self._dice = random.Random(seed)
        self._rows = [
            _Row(index, lookahead)
            for index, (port, lookahead) in enumerate(zip(setup.ports, lookaheads, strict=True))
            if port.to is not None
        ]
        self._sequence = 0
        self._ends: int | None = None
        self._told: list[Effect] = []

    @property
    def finished(self) -> bool:
        """Whether it is over."""
        return bool(self.reason)

    def hear(self, event: Event, now: int) -> None:
        """Counts skipped cycles; the front's wish and a port's end finish it. All else is nothing to it."""
        if isinstance(event, Quit):
            self.reason = self.reason or event.reason
        elif isinstance(event, Gone):
            self.reason = self.reason or f"{self.setup.ports[event.port].name}: {event.reason}"
        elif isinstance(event, Lost):
            self._told.append(Shown(now, self.state, "lost", text=self.setup.ports[event.port].name))

    def take(self, until: int) -> list[Effect]:
        """See `decides.Decides.take`."""
        if self._ends is None:
            self._ends = until + SETTLE_NS + self.setup.measure_ns
            for row in self._rows:
                row.hands = until + SETTLE_NS + self._pause()
        told, self._told = self._told, []
        for row in self._rows:
            while row.hands <= min(until, self._ends):
                told += self._handed(row, until)
        longest = max((row.lookahead for row in self._rows), default=0)
        if until > self._ends + longest:  # what was handed last has sounded
            self.reason = self.reason or "measured"
        return told

    def farewell(self, now: int) -> list[Hand]:
        """See `decides.Decides.farewell`: nothing."""
        del now
        return []

    def next_due(self) -> int | None:
        """See `decides.Decides.next_due`."""
        if self._ends is None:
            return 0
        longest = max((row.lookahead for row in self._rows), default=0)
        waiting = [row.hands for row in self._rows if row.hands <= self._ends]
        return min(waiting, default=self._ends + longest + 1)

    def _handed(self, row: _Row, now: int) -> list[Effect]:
        due = row.hands
        row.hands += self._pause()
        self._sequence += 1
        cue = Cue(due + row.lookahead, Rank.REAL_TIME, self._sequence, ACTIVE_SENSING)
        return [Hand(row.port, (cue,)), Shown(now, self.state, "woke", text=str(now - due))]

    def _pause(self) -> int:
        return self._dice.randint(*BETWEEN_NS) * max(1, len(self._rows))
