"""The socket pair between front and stand: one JSON object a line, and neither end ever waits for the other.

What waits for the other end is kept by what it is about, and the newest of each wins: one snapshot, one code,
one set, one answer to each question. So however long the other end does not read, little waits, and what it
reads then is what is so. Presses and orders, which the stand sends, are each kept, in turn, up to a limit.
"""

from __future__ import annotations

import json
import socket
import threading
from collections.abc import Callable, Mapping
from typing import Any, Final

from introit.errors import IntroitError

MAX_LINE: Final = 1024 * 1024
"""Longest line in bytes, its end counted; a set of 2,000 tunes takes 300 kB."""
WAITING_LIMIT: Final = 256
"""How many lines may wait at an end."""
_CHUNK: Final = 65536
_CHUNKS: Final = 32
"""So many at a time: whoever sends without end must not keep the other from its work."""
_NEWEST_WINS: Final = {
    "snapshot": (),
    "code": (),
    "set": (),
    "lesson": (),
    "serving": (),
    "failed": (),
    "revoke": ("device",),
    "answer": ("id",),
}
"""Kind of line -> the fields that tell what it is about. Any other line is kept beside its like."""


class LinkError(IntroitError):
    """The other end is gone, or speaks what cannot be understood."""


def encode(message: Mapping[str, Any]) -> bytes:
    """One line. ASCII alone, so that no character of a title can end it early.

    Raises:
        LinkError: if the line is longer than `MAX_LINE`.
        ValueError: if a number is not finite.
    """
    line = json.dumps(message, separators=(",", ":"), allow_nan=False).encode("ascii") + b"\n"
    if len(line) > MAX_LINE:
        raise LinkError(f"a line takes {len(line)} bytes; allowed is {MAX_LINE}")
    return line


class Lines:
    """Turns bytes, in whatever pieces they come, into messages."""

    def __init__(self) -> None:
        self._rest = bytearray()

    def feed(self, data: bytes) -> list[dict[str, Any]]:
        """Every message completed by `data`, in order.

        Raises:
            LinkError: if a line is too long or holds no JSON object.
        """
        *whole, rest = (bytes(self._rest) + data).split(b"\n")
        self._rest = bytearray(rest)
        if len(rest) > MAX_LINE:
            raise LinkError(f"a line is longer than {MAX_LINE} bytes")
        return [_read(line) for line in whole]


def _read(line: bytes) -> dict[str, Any]:
    try:
        message = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise LinkError(f"a line cannot be read: {error}") from error
    if not isinstance(message, dict):
        raise LinkError("a line holds no object")
    return message


class Waiting:
    """Lines that wait for a socket. Pure: `send` takes what it takes.

    Args:
        limit: how many may wait.

    Attributes:
        dropped: how many lines were overtaken by a newer one, or had no room.
    """

    def __init__(self, limit: int = WAITING_LIMIT) -> None:
        self._limit = limit
        self._lines: dict[tuple[Any, ...], bytes] = {}
        self._begun = b""  # what the socket has taken a part of must be ended before anything else
        self._count = 0
        self.dropped = 0

    @property
    def pending(self) -> bool:
        """Whether something waits."""
        return bool(self._begun or self._lines)

    def put(self, message: Mapping[str, Any]) -> bool:
        """Keeps a message until it can be sent; False where there is no room and it is not kept.

        Raises:
            LinkError, ValueError: see `encode`.
        """
        line = encode(message)
        about = self._about(message)
        if self._lines.pop(about, None) is not None:  # its newer one goes to the end of the row
            self.dropped += 1
        elif len(self._lines) >= self._limit:
            self.dropped += 1
            return False
        self._lines[about] = line
        return True

    def _about(self, message: Mapping[str, Any]) -> tuple[Any, ...]:
        kind = message.get("kind")
        fields = _NEWEST_WINS.get(kind) if isinstance(kind, str) else None
        if fields is None:
            self._count += 1
            return (None, self._count)
        return (kind, *(message.get(field) for field in fields))

    def flush(self, send: Callable[[bytes], int]) -> None:
        """Sends what can be sent now.

        Args:
            send: takes bytes, returns how many it took; raises BlockingIOError when it can take none.

        Raises:
            OSError: what `send` raises beside.
        """
        while self.pending:
            if not self._begun:
                self._begun = self._lines.pop(next(iter(self._lines)))
            try:
                taken = send(self._begun)
            except (BlockingIOError, InterruptedError):
                return
            self._begun = self._begun[taken:]


class End:
    """One end of the link. `put` and `flush` may be called from any thread; `receive` and `close` from one.

    Whoever waits for several things at once watches `fileno()`: for reading always, for writing while
    `pending`. Nothing here waits.

    Args:
        end: a connected stream socket, which this owns from now on.
        limit: how many lines may wait.

    Attributes:
        gone: True once nothing can be sent any more; `receive` says so after what had still come.
    """

    def __init__(self, end: socket.socket, *, limit: int = WAITING_LIMIT) -> None:
        end.setblocking(False)
        self._socket = end
        self._waiting = Waiting(limit)
        self._lines = Lines()
        self._turn = threading.Lock()  # held for as long as a send that cannot wait takes
        self.gone = False

    def fileno(self) -> int:
        """For a selector."""
        return self._socket.fileno()

    @property
    def pending(self) -> bool:
        """Whether `flush` has something left to do."""
        return self._waiting.pending and not self.gone

    @property
    def dropped(self) -> int:
        """How many lines were overtaken by newer ones, or had no room."""
        return self._waiting.dropped

    def put(self, message: Mapping[str, Any]) -> bool:
        """Sends a message as soon as the other end takes it; False where there is no room, or nobody.

        Raises:
            LinkError, ValueError: see `encode`.
        """
        with self._turn:
            if self.gone:
                return False
            kept = self._waiting.put(message)
            self._flush()
            return kept and not self.gone

    def flush(self) -> None:
        """Sends what can be sent now."""
        with self._turn:
            if not self.gone:
                self._flush()

    def _flush(self) -> None:
        try:
            self._waiting.flush(self._socket.send)
        except OSError:
            self.gone = True  # not closed here: another thread's selector may be watching it

    def receive(self) -> list[dict[str, Any]]:
        """Every message that has come whole.

        Raises:
            LinkError: if the other end is gone, or a line cannot be read.
        """
        messages: list[dict[str, Any]] = []
        for _ in range(_CHUNKS):
            try:
                data = self._socket.recv(_CHUNK)
            except (BlockingIOError, InterruptedError):
                break
            except OSError:
                data = b""
            if not data:
                self.gone = True
                break
            messages += self._lines.feed(data)
        if self.gone and not messages:
            raise LinkError("the other end is gone")
        return messages

    def close(self) -> None:
        """Lets go of it; what waits is not sent."""
        with self._turn:
            self.gone = True
            self._socket.close()


def link() -> tuple[End, socket.socket]:
    """A fresh link: the front's end, and the socket that the stand's process is given."""
    ours, theirs = socket.socketpair()
    return End(ours), theirs
