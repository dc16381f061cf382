"""Handing over with a memory: what was handed to each port, and how to take it back or release it."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Sequence
from itertools import count

from introit.live.cue import Cue, Rank
from introit.live.events import Lost, Sent
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

    The ledger may say that more is owed than sounds, never less. So an off that was handed without an on of
    its own (that one was dropped, or could be withdrawn) pays for nothing when it has gone out.

    A port that has gone is handed nothing; what it still owed stays owed, and is released first when it is
    back (what listened to it may sound on all the while).
    """

    def __init__(self, ports: Sequence[Port], ledger: Ledger) -> None:
        self._ports = ports
        self._ledger = ledger
        self._gone: set[int] = set()
        self._channels: list[set[int]] = [set() for _ in ports]
        self._handed: list[deque[Cue]] = [deque() for _ in ports]
        self._begun: list[Counter[bytes]] = [Counter() for _ in ports]  # notes whose off has not been handed
        self._paying: list[Counter[tuple[int, bytes]]] = [Counter() for _ in ports]  # offs to be told as sent
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
                self._count(port, cue)
        self._ports[port].hand(cues)
        while history and history[0].ns < history[-1].ns - MEMORY_NS:
            history.popleft()

    def _count(self, port: int, cue: Cue) -> None:
        note, begun = _note(cue.data), self._begun[port]
        if cue.rank == Rank.ON:
            begun[note] += 1
        elif begun[note]:
            begun[note] -= 1
            self._paying[port][cue.ns, cue.data] += 1

    def went_out(self, sent: Sent) -> None:
        """Writes into the ledger what an off pays."""
        paying, off = self._paying[sent.port], (sent.ideal, sent.data)
        if paying[off]:
            paying[off] -= 1
            self._ledger.paid(sent.port, sent.data)
        if not paying[off]:
            del paying[off]

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
            note = _note(cue.data)
            if cue.rank == Rank.ON:
                offs.pop(note, None)
            elif first <= cue.ns <= lost.end:
                offs[note] = cue
        paying = self._paying[lost.port]
        for cue in offs.values():
            if paying[cue.ns, cue.data]:  # not told as sent, and never to be: the repetition pays
                paying[cue.ns, cue.data] -= 1
                paying[now, cue.data] += 1
        self._hand_own(lost.port, now, Rank.OFF, (cue.data for cue in offs.values()))

    def gone(self, port: int) -> None:
        """Hands nothing to the port any more."""
        self._gone.add(port)
        self._forget(port)

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
        self._forget(port)
        owed = self._ledger.owed(port)
        offs = [note_off(channel, pitch) for channel, pitch, number in owed for _ in range(number)]
        self._paying[port].update((now, off) for off in offs)
        self._hand_own(port, now, Rank.OFF, offs)
        self._hand_own(port, now, Rank.CONTROL, map(all_notes_off, sorted(self._channels[port])))

    def _forget(self, port: int) -> None:
        for account in (self._handed[port], self._begun[port], self._paying[port]):
            account.clear()

    def _hand_own(self, port: int, now: int, rank: Rank, messages: Iterable[bytes]) -> None:
        cues = [Cue(now, rank, next(self._sequence), data) for data in messages]
        if cues:
            self._ports[port].hand(cues)


def _note(data: bytes) -> bytes:
    """Channel and pitch of a note-on or note-off."""
    return bytes((data[0] & 0x0F, data[1]))
