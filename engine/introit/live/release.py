"""Handing over with a memory: what was handed to each port, and how to take it back or release it."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from itertools import count

from introit.live.cue import Cue, Rank
from introit.live.events import Lost
from introit.live.ledger import Ledger
from introit.live.messages import ACTIVE_SENSING, all_notes_off, note_off
from introit.live.port import Port
from introit.units import NS_PER_SECOND

MEMORY_NS = 5 * NS_PER_SECOND
"""Offs handed longer ago than this are not repeated after a lost cycle."""
OWN_SEQUENCE = 1 << 48
"""The loop's own cues count from here, far above a session's."""


class Releaser:
    """Everything handed to the ports passes here, so that everything can be released.

    A port that has gone is handed nothing; what it still owed stays owed, and is released first when it is
    back (what listened to it may sound on all the while).
    """

    def __init__(self, ports: Sequence[Port], ledger: Ledger) -> None:
        self._ports = ports
        self._ledger = ledger
        self._gone: set[int] = set()
        self._channels: list[set[int]] = [set() for _ in ports]
        self._handed: list[deque[Cue]] = [deque() for _ in ports]
        self._sequence = count(OWN_SEQUENCE)

    def hand(self, port: int, cues: Sequence[Cue]) -> None:
        """Writes the notes into the ledger, then hands the cues over."""
        if port in self._gone:
            return
        history = self._handed[port]
        for cue in cues:
            self._ledger.owe(port, cue.data)
            if cue.rank in (Rank.ON, Rank.OFF):
                history.append(cue)
                self._channels[port].add(cue.data[0] & 0x0F)
        self._ports[port].hand(cues)
        while history and history[0].ns < history[-1].ns - MEMORY_NS:
            history.popleft()

    def silence(self, now: int) -> None:
        """Withdraws all that can be, then releases what is left, on every port.

        Raises:
            Exception: the first that a port raised, once all the others have been silenced.
        """
        errors = []
        for port in self._present():
            try:
                self._silence_port(port, now)
            except Exception as error:
                errors.append(error)
        if errors:
            raise errors[0]

    def repeat_lost(self, lost: Lost, now: int) -> None:
        """Repeats the offs of a span that the system skipped, unless the note has been struck again since.

        A cue that came late was placed up to a lookahead behind its time, so the span is widened by as much.
        """
        history = self._handed[lost.port]
        while history and history[0].ns < now - MEMORY_NS:
            history.popleft()
        first = lost.start - self._ports[lost.port].lookahead
        offs: dict[bytes, Cue] = {}
        for cue in history:
            note = bytes((cue.data[0] & 0x0F, cue.data[1]))
            if cue.rank == Rank.ON:
                offs.pop(note, None)
            elif first <= cue.ns <= lost.end:
                offs[note] = cue
        self._hand_own(lost.port, now, Rank.OFF, (cue.data for cue in offs.values()))

    def gone(self, port: int) -> None:
        """Hands nothing to the port any more."""
        self._gone.add(port)
        self._handed[port].clear()

    def back(self, port: int, now: int) -> None:
        """Releases what the port owed when it went, before anything else is handed to it."""
        self._gone.discard(port)
        self._silence_port(port, now)

    def sense(self, ports: Iterable[int], now: int) -> None:
        """Sends Active Sensing to those of the ports that are there."""
        for port in ports:
            if port not in self._gone:
                self._hand_own(port, now, Rank.CONTROL, [ACTIVE_SENSING])

    def owing(self) -> bool:
        """Whether a port that is there still owes an off."""
        return any(self._ledger.owed(port) for port in self._present())

    def _present(self) -> list[int]:
        return [port for port in range(len(self._ports)) if port not in self._gone]

    def _silence_port(self, port: int, now: int) -> None:
        for cue in self._ports[port].withdraw(-1):
            self._ledger.withdrawn(port, cue.data)
        self._handed[port].clear()
        owed = self._ledger.owed(port)
        offs = [note_off(channel, pitch) for channel, pitch, number in owed for _ in range(number)]
        self._hand_own(port, now, Rank.OFF, offs)
        self._hand_own(port, now, Rank.CONTROL, map(all_notes_off, sorted(self._channels[port])))

    def _hand_own(self, port: int, now: int, rank: Rank, messages: Iterable[bytes]) -> None:
        cues = [Cue(now, rank, next(self._sequence), data) for data in messages]
        if cues:
            self._ports[port].hand(cues)
