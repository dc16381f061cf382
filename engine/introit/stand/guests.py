"""Which connections may stay, when there are too many. Pure.

A newcomer is let in, and whoever has stood about longest without asking for anything makes room: so neither a
flood nor somebody who holds connections open keeps a player's tablet out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable
from typing import Final

MOST: Final = 256
MOST_OF_ONE: Final = 128
"""Of one address."""


class Guests:
    """Keeps account of connections.

    Args:
        most: how many may stay.
        most_of_one: how many of one address.
    """

    def __init__(self, most: int = MOST, most_of_one: int = MOST_OF_ONE) -> None:
        self._most = most
        self._most_of_one = most_of_one
        self._addresses: dict[Hashable, str] = {}
        self._idle: dict[Hashable, None] = {}
        self._of_address: Counter[str] = Counter()

    def __len__(self) -> int:
        return len(self._addresses)

    def arrive(self, guest: Hashable, address: str) -> Hashable | None:
        """A new connection, which has asked for nothing yet; returns who has to leave, maybe itself."""
        leaves = None
        if self._of_address[address] >= self._most_of_one:
            leaves = next((other for other in self._idle if self._addresses[other] == address), guest)
        elif len(self) >= self._most:
            leaves = next(iter(self._idle), guest)
        if leaves is not guest:
            if leaves is not None:
                self.leave(leaves)
            self._addresses[guest] = address
            self._of_address[address] += 1
            self._idle[guest] = None
        return leaves

    def busy(self, guest: Hashable) -> None:
        """Something is being done for this one."""
        self._idle.pop(guest, None)

    def idle(self, guest: Hashable) -> None:
        """It is done; this one waits from now."""
        if guest in self._addresses:
            self._idle[guest] = None

    def leave(self, guest: Hashable) -> None:
        """This connection has ended, or is about to."""
        address = self._addresses.pop(guest, None)
        self._idle.pop(guest, None)
        if address is not None:
            self._of_address[address] -= 1
            if not self._of_address[address]:
                del self._of_address[address]
