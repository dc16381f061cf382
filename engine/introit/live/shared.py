"""Memory that front and player share: the ledger, where each port was connected, and the mix.

It has no name where the system can do without, so nothing is left behind by any death. A `Snapshot` is
written into one of two slots in turn and chosen by one store, so a reader never meets a half-written one.
"""

from __future__ import annotations

import json
import mmap
import os
import struct
import sys
import tempfile
import zlib
from typing import Any, Final

from introit.live.ledger import Ledger

SLOT: Final = 16 * 1024
"""Bytes of one snapshot slot; a snapshot that does not fit is not written."""
STANDARD_ERROR: Final = 2
"""The last of the standard streams' descriptors."""
_SLOT_HEAD = struct.Struct("<II")
_CHOICE: Final = 8


def above_standard(descriptor: int) -> int:
    """The same open file under a number above 2; the descriptor itself where it is already.

    A process whose standard streams are closed gets their numbers for what it opens next, and a child would
    find its own streams there.
    """
    if sys.platform == "win32" or descriptor > STANDARD_ERROR:
        return descriptor
    import fcntl  # no such module on Windows

    moved: int = fcntl.fcntl(descriptor, fcntl.F_DUPFD_CLOEXEC, STANDARD_ERROR + 1)
    os.close(descriptor)
    return moved


class SharedMemory:
    """A block of memory with a handle that a child process can be given.

    Attributes:
        handle: what the child opens it with: a file descriptor, or a name on Windows.
        buffer: the bytes.
    """

    def __init__(self, handle: str, size: int) -> None:
        """Opens the block that another process made.

        Args:
            handle: its `handle`.
            size: its size in bytes.
        """
        self.handle = handle
        if sys.platform == "win32":
            self._map = mmap.mmap(-1, size, tagname=handle)
        else:
            self._map = mmap.mmap(int(handle), size)
        self.buffer = memoryview(self._map)

    @classmethod
    def create(cls, size: int) -> SharedMemory:
        """A new block of zeros."""
        if sys.platform == "win32":
            return cls(f"introit-{os.getpid()}-{os.urandom(8).hex()}", size)
        if sys.platform == "linux":
            descriptor = os.memfd_create("introit")
        else:
            with tempfile.TemporaryFile() as file:  # has no name from the start
                descriptor = os.dup(file.fileno())
        descriptor = above_standard(descriptor)
        os.truncate(descriptor, size)
        return cls(str(descriptor), size)

    def close(self) -> None:
        """Lets go of it; ledgers and snapshots over it must be closed first. Safe to call twice."""
        self.buffer.release()
        self._map.close()
        if sys.platform != "win32" and self.handle:
            os.close(int(self.handle))
        self.handle = ""


class Snapshot:
    """A small JSON value in shared memory, whole at every instant.

    Args:
        buffer: at least `SIZE` bytes, zero at first.
    """

    SIZE: Final = _CHOICE + 2 * SLOT

    def __init__(self, buffer: memoryview) -> None:
        self._view = buffer[: self.SIZE]

    def write(self, value: Any) -> bool:
        """Replaces the value; False if it is too long and the old one stays."""
        body = json.dumps(value, separators=(",", ":")).encode()
        if len(body) > SLOT - _SLOT_HEAD.size:
            return False
        slot = 1 - self._view[0] % 2
        start = _CHOICE + slot * SLOT
        _SLOT_HEAD.pack_into(self._view, start, len(body), zlib.crc32(body))
        first = start + _SLOT_HEAD.size
        self._view[first : first + len(body)] = body
        self._view[0] = slot
        return True

    def read(self) -> Any:
        """The last value written; None when there was none."""
        start = _CHOICE + self._view[0] % 2 * SLOT
        length, check = _SLOT_HEAD.unpack_from(self._view, start)
        body = bytes(self._view[start + _SLOT_HEAD.size :][:length])
        return json.loads(body) if body and zlib.crc32(body) == check else None

    def close(self) -> None:
        """Lets go of the buffer. Safe to call twice."""
        self._view.release()


class Shared:
    """The ledger and two snapshots in one block.

    Attributes:
        memory: the block.
        ledger: what is owed.
        connections: the full names that each port was last connected to, by index as text: destinations,
            then sources.
        mix: what orders have made of the rig's mix, as `mix.Mix` writes it; None where none has.
    """

    def __init__(self, memory: SharedMemory, ports: int, *, new: bool) -> None:
        """Lays the parts over a block of `size(ports)` bytes.

        Raises:
            PlayerError: if the block holds no ledger and is not new.
        """
        self.memory = memory
        self.ledger = Ledger.create(memory.buffer, ports) if new else Ledger(memory.buffer)
        room = _ledger_room(ports)
        self.connections = Snapshot(memory.buffer[room:])
        self.mix = Snapshot(memory.buffer[room + Snapshot.SIZE :])

    @staticmethod
    def size(ports: int) -> int:
        """Bytes needed for so many ports."""
        return _ledger_room(ports) + 2 * Snapshot.SIZE

    @classmethod
    def create(cls, ports: int) -> Shared:
        """A new block for so many ports."""
        return cls(SharedMemory.create(cls.size(ports)), ports, new=True)

    @classmethod
    def open(cls, handle: str, ports: int) -> Shared:
        """The block that the other process made."""
        return cls(SharedMemory(handle, cls.size(ports)), ports, new=False)

    def close(self) -> None:
        """Lets go of everything. Safe to call twice."""
        self.ledger.close()
        self.connections.close()
        self.mix.close()
        self.memory.close()


def _ledger_room(ports: int) -> int:
    return (Ledger.size(ports) + 7) // 8 * 8
