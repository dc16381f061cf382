"""The ledger: which notes were handed over and are still to be released, where another process can read it.

And who was told Start or Continue and not yet Stop: whoever plays by our clock would go on for ever.

It lies in memory that both processes share, and is written before a note is handed to its port, so that
whoever survives knows what sounds. The layout is fixed (`struct` notation, little-endian, no padding):

    offset  format    what
    0       8s        magic, b"introled"
    8       H         version of this layout, 2
    10      H         number of ports
    12      I         the player's state: `OPENING`, `RUNNING` or `LEFT`
    16      Q         heartbeat of the player
    24      Q         heartbeat of the front
    32      2048B ... for each port, for each channel (16), for each pitch (128): how many offs are owed
    after   B ...     for each port: 1 from Start or Continue until a Stop has gone out, else 0

A count is one byte and is written in one store; a heartbeat is one aligned 64-bit store. So a reader never
meets a half-written number, at whatever instruction the writer died. The magic is written last when a ledger
is created. Heartbeats are in the writer's own clock, which starts at a random offset: a reader asks whether
one still changes, never how old its value is.
"""

from __future__ import annotations

import struct
from typing import Final, Literal

from introit.errors import PlayerError
from introit.live.messages import CONTINUE, START

MAGIC: Final = b"introled"
VERSION: Final = 2
CHANNELS: Final = 16
PITCHES: Final = 128
COUNT_MAX: Final = 255

OPENING: Final = 0
"""Created; the player has not begun."""
RUNNING: Final = 1
"""The player plays; whatever is owed sounds."""
LEFT: Final = 2
"""The player released everything it could reach and left in order."""

Who = Literal["player", "front"]
_BEATS: dict[Who, int] = {"player": 0, "front": 1}
_HEAD = struct.Struct("<8sHHI")
_STATE = 12
_HEARTBEATS = 16
_COUNTS = 32
_PER_PORT = CHANNELS * PITCHES


class Ledger:
    """A ledger over a writable buffer, 8-byte aligned (shared memory, a bytearray).

    One process writes the counts (the player, or the front once the player is dead); nothing is locked.

    Attributes:
        ports: how many ports it has rows for.
    """

    def __init__(self, buffer: bytearray | memoryview) -> None:
        """Opens a ledger that `create` laid out.

        Raises:
            PlayerError: if the buffer holds no ledger of this version.
        """
        self._view = memoryview(buffer).cast("B")
        magic, version, self.ports, _ = _HEAD.unpack_from(self._view)
        if magic != MAGIC or version != VERSION:
            self._view.release()
            raise PlayerError(f"the shared memory holds no ledger of version {VERSION}")
        self._state = self._view[_STATE:_HEARTBEATS].cast("I")
        self._heartbeats = self._view[_HEARTBEATS:_COUNTS].cast("Q")
        after = _COUNTS + self.ports * _PER_PORT
        self._counts = self._view[_COUNTS:after]
        self._leads = self._view[after : self.size(self.ports)]

    @staticmethod
    def size(ports: int) -> int:
        """Bytes that a ledger for so many ports takes."""
        return _COUNTS + ports * (_PER_PORT + 1)

    @classmethod
    def create(cls, buffer: bytearray | memoryview, ports: int) -> Ledger:
        """Lays out an empty ledger at the start of a buffer of at least `size(ports)` bytes."""
        view = memoryview(buffer).cast("B")
        view[: cls.size(ports)] = bytes(cls.size(ports))
        _HEAD.pack_into(view, 0, bytes(8), VERSION, ports, OPENING)
        view[: len(MAGIC)] = MAGIC
        view.release()
        return cls(buffer)

    @property
    def state(self) -> int:
        """The player's state: `OPENING`, `RUNNING` or `LEFT`."""
        return self._state[0]

    @state.setter
    def state(self, value: int) -> None:
        self._state[0] = value

    def beat(self, who: Who, ns: int) -> None:
        """Writes a heartbeat: the writer's own clock, 0 or more."""
        self._heartbeats[_BEATS[who]] = ns

    def last_beat(self, who: Who) -> int:
        """The last heartbeat written; 0 when there was none. Compare it with an earlier one."""
        return self._heartbeats[_BEATS[who]]

    def owe(self, port: int, data: bytes) -> None:
        """Notes that a message is about to be handed over: a note-on owes one off, Start and Continue a Stop.

        A count saturates at 255.
        """
        if data in (START, CONTINUE):
            self._leads[port] = 1
        place = self._place(port, data, status=0x90)
        if place is not None and data[2] and self._counts[place] < COUNT_MAX:
            self._counts[place] += 1

    def paid(self, port: int, data: bytes) -> None:
        """Notes that a message has gone out: a note-off pays one. Never falls below 0."""
        place = self._place(port, data, status=0x80)
        if place is None and len(data) == 3 and not data[2]:
            place = self._place(port, data, status=0x90)
        if place is not None and self._counts[place]:
            self._counts[place] -= 1

    def withdrawn(self, port: int, data: bytes) -> None:
        """Notes that a handed message was taken back before it sounded: a note-on owes one less."""
        place = self._place(port, data, status=0x90)
        if place is not None and data[2] and self._counts[place]:
            self._counts[place] -= 1

    def owed(self, port: int) -> list[tuple[int, int, int]]:
        """What is owed on a port: (channel, pitch, how many offs), ordered."""
        row = bytes(self._counts[port * _PER_PORT : (port + 1) * _PER_PORT])
        if not any(row):
            return []
        return [(at // PITCHES, at % PITCHES, count) for at, count in enumerate(row) if count]

    def leads(self, port: int) -> bool:
        """Whether a Stop is owed: Start or Continue was handed over, and since then no Stop has gone out."""
        return bool(self._leads[port])

    def stopped(self, port: int) -> None:
        """Notes that no Stop is owed any more: it has gone out, or all that would need one was taken back."""
        self._leads[port] = 0

    def forget(self, port: int) -> None:
        """Clears what a port is owed: nothing can be owed to it any more."""
        self._leads[port] = 0
        self._counts[port * _PER_PORT : (port + 1) * _PER_PORT] = bytes(_PER_PORT)

    def close(self) -> None:
        """Lets go of the buffer, so that shared memory can be closed. Safe to call twice."""
        for view in (self._state, self._heartbeats, self._counts, self._leads, self._view):
            view.release()

    @staticmethod
    def _place(port: int, data: bytes, *, status: int) -> int | None:
        if len(data) != 3 or data[0] & 0xF0 != status:
            return None
        return port * _PER_PORT + (data[0] & 0x0F) * PITCHES + data[1]
