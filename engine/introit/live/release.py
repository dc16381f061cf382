"""Handing over with a memory: all that is handed to the ports passes here, so that all can be released."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import count
from typing import Final

from introit.live.account import Account
from introit.live.ceiling import Ceiling
from introit.live.cue import Cue, Rank
from introit.live.events import Lost, Sent
from introit.live.lamps import Lamps
from introit.live.ledger import Ledger
from introit.live.messages import ACTIVE_SENSING
from introit.live.port import Port
from introit.live.setup import Lamp

OWN_SEQUENCE: Final = 1 << 48
"""The loop's own cues count from here, far above a session's."""


class Releaser:
    """Hands over, takes back and releases, port by port.

    A port that has gone, or has nothing to play into any more, is handed nothing; what it still owed stays
    owed, and is released first when that is back (what listened to it may sound on all the while).
    """

    def __init__(self, ports: Sequence[Port], ledger: Ledger, ceiling: Ceiling | None = None) -> None:
        """Nothing has been handed over yet.

        Args:
            ports: in the setup's order.
            ledger: laid out for as many.
            ceiling: what nothing that is handed may pass; None for none.
        """
        self._ceiling = ceiling or Ceiling(())
        self._ports = ports
        self._ledger = ledger
        self._gone: set[int] = set()
        self._unplugged: set[int] = set()
        self._sequence = count(OWN_SEQUENCE)
        self._accounts = [Account(ledger, port, self._sequence.__next__) for port in range(len(ports))]

    def hand(self, port: int, cues: Sequence[Cue]) -> None:
        """Writes the notes into the ledger, then hands the cues over."""
        if self._reaches(port):
            self._ports[port].hand(self._accounts[port].hand(self._ceiling.held(port, cues)))

    def went_out(self, sent: Sent) -> None:
        """Writes into the ledger what an off pays, and a Stop."""
        self._accounts[sent.port].went_out(sent)

    def silence(self, now: int) -> None:
        """Withdraws all that can be, then releases what is left, on every port.

        Raises:
            Exception: the first that a port raised, once all the others have been silenced.
        """
        errors = []
        for port in self._present():
            try:
                self._release(port, now)
            except Exception as error:
                errors.append(error)
        if errors:
            raise errors[0]

    def repeat_lost(self, lost: Lost, now: int) -> bool:
        """Repeats the offs of a span that the system skipped, without cutting what was struck again since.

        Returns:
            Whether there were any to repeat at once.
        """
        if self._reaches(lost.port):
            port = self._ports[lost.port]
            again = self._accounts[lost.port].lose(lost, lookahead=port.lookahead, now=now)
            if again:
                port.hand(again)
            return bool(again)
        return False

    def repeat_unasked(self, now: int) -> None:
        """Repeats the offs of the last seconds, once, where a lost cycle may not have been told.

        Only on ports that work in cycles, which place events ahead and take a cycle to let them go.
        """
        for port in self._present():
            if self._ports[port].lookahead and self._ports[port].latency:
                again = self._accounts[port].again_unasked(now)
                if again:
                    self._ports[port].hand(again)

    def gone(self, port: int) -> None:
        """Hands nothing to the port any more."""
        self._gone.add(port)
        self._accounts[port].lose_sight()

    def back(self, port: int, now: int) -> None:
        """Releases what the port owed when it went, before anything else is handed to it."""
        self._gone.discard(port)
        if self._reaches(port):
            self._release(port, now)

    def unplugged(self, port: int) -> None:
        """Hands nothing to the port until something listens to it again."""
        self._unplugged.add(port)
        self._accounts[port].lose_sight()

    def plugged(self, port: int, now: int) -> None:
        """Releases what the port owed when its last listener went, before anything else is handed to it."""
        self._unplugged.discard(port)
        if self._reaches(port):
            self._release(port, now)

    def sense(self, ports: Iterable[int], now: int) -> None:
        """Sends Active Sensing to those of the ports that are there."""
        for port in ports:
            if self._reaches(port):
                self._ports[port].hand([Cue(now, Rank.CONTROL, next(self._sequence), ACTIVE_SENSING)])

    def put_out(self, lamps: Sequence[Lamp], now: int) -> None:
        """Puts out every lamp, whatever was lit, on the ports that are there.

        Raises:
            Exception: the first that a port raised, once all the others have been told.
        """
        errors = []
        for hand in Lamps(lamps, self._sequence.__next__).out(now):
            try:
                self.hand(hand.port, hand.cues)
            except Exception as error:
                errors.append(error)
        if errors:
            raise errors[0]

    def owing(self) -> bool:
        """Whether a port that is there still owes an off, or a Stop."""
        return any(self._ledger.owed(port) or self._ledger.leads(port) for port in self._present())

    def _present(self) -> list[int]:
        return [port for port in range(len(self._ports)) if self._reaches(port)]

    def _reaches(self, port: int) -> bool:
        return port not in self._gone and port not in self._unplugged

    def _release(self, port: int, now: int) -> None:
        cues = self._accounts[port].release(self._ports[port].withdraw(-1), now)
        if cues:
            self._ports[port].hand(cues)
