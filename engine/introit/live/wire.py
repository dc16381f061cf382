"""What travels between front and player: length-prefixed frames over a stream socket.

A frame is a header (body length, kind) and a body: JSON for small values, `Performance.to_bytes` for music.
The first frame each way is a `Hello` with the version, so that two halves of different releases refuse each
other. Nothing here blocks: `Decoder` takes bytes in whatever pieces they come, `Outbox` keeps what the socket
would not take.
"""

from __future__ import annotations

import json
import struct
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any, Final

from introit.errors import PlayerError
from introit.live.events import (
    Called,
    Following,
    Heard,
    Ordered,
    Played,
    Quit,
    Ready,
    Refused,
    Reordered,
    Request,
    Sent,
    Shown,
    Taught,
    Wanted,
)
from introit.performance import Performance

VERSION: Final = 3
"""Grows with every change of a frame's meaning."""
MAX_BODY: Final = 4 * 1024 * 1024
"""Longest body in bytes; a longer one is refused on both sides (an intro of 500 notes takes 8 kB)."""
OUTBOX_LIMIT: Final = 256 * 1024
"""Bytes waiting for the socket above which records are dropped and counted; control frames are kept."""

_HEADER = struct.Struct("<IB")
_READY = struct.Struct("<i?i")
_NUMBER = struct.Struct("<i")


@dataclass(frozen=True, slots=True)
class Hello:
    """First frame of each side.

    Attributes:
        setup: the setup as JSON from the front; from the player an empty string.
        version: the wire's version.
    """

    setup: str = ""
    version: int = VERSION


@dataclass(frozen=True, slots=True)
class Opened:
    """The player has opened its ports and plays from now on.

    Attributes:
        ports: real name of each port, in the setup's order.
        scheduling: what the system granted, as `system.Granted.text` words it.
        latencies, lookaheads: nanoseconds, as each port has them.
    """

    ports: tuple[str, ...]
    scheduling: str = ""
    latencies: tuple[int, ...] = ()
    lookaheads: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Failed:
    """The player could not do it; it leaves.

    Attributes:
        kind: `port` when a port was to blame, else `player`.
        reason: one line for the user.
    """

    kind: str
    reason: str


@dataclass(frozen=True, slots=True)
class Left:
    """The player's last frame: it has released everything and leaves of its own will."""

    reason: str


@dataclass(frozen=True, slots=True)
class Dropped:
    """So many log records were dropped because the pipe was full."""

    count: int


Message = (
    Hello
    | Opened
    | Failed
    | Left
    | Dropped
    | Ready
    | Refused
    | Quit
    | Played
    | Ordered
    | Reordered
    | Called
    | Following
    | Taught
    | Wanted
    | Shown
    | Sent
    | Heard
)
Record = (Sent, Heard, Shown)
"""What may be dropped when nobody reads: the log and the screen, never the music or a request."""


def _json(value: Any) -> bytes:
    return json.dumps(asdict(value), separators=(",", ":")).encode()


def _timed(value: Sent | Heard | Played) -> bytes:
    fields = asdict(value)
    fields["data"] = value.data.hex()
    return json.dumps(fields, separators=(",", ":")).encode()


def _ready(value: Ready) -> bytes:
    return _READY.pack(value.tune, value.own, value.intro) + value.performance.to_bytes()


def _read_ready(body: bytes) -> Ready:
    tune, own, intro = _READY.unpack_from(body)
    return Ready(tune, own, Performance.from_bytes(body[_READY.size :]), intro)


def _following(value: Following) -> bytes:
    body = b"" if value.performance is None else value.performance.to_bytes()
    return _NUMBER.pack(value.number) + body


def _read_following(body: bytes) -> Following:
    (number,) = _NUMBER.unpack_from(body)
    music = body[_NUMBER.size :]
    return Following(Performance.from_bytes(music) if music else None, number)


def _read_timed(cls: Callable[..., Message]) -> Callable[[bytes], Message]:
    def read(body: bytes) -> Message:
        fields = json.loads(body)
        return cls(**{**fields, "data": bytes.fromhex(fields["data"])})

    return read


def _read_json(cls: Callable[..., Message]) -> Callable[[bytes], Message]:
    return lambda body: cls(**json.loads(body))


def _read_request(cls: Callable[..., Message]) -> Callable[[bytes], Message]:
    def read(body: bytes) -> Message:
        fields = json.loads(body)
        return cls(**{**fields, "request": Request(**fields["request"])})

    return read


def _read_reordered(body: bytes) -> Reordered:
    return Reordered(tuple(json.loads(body)["order"]))


def _read_opened(body: bytes) -> Opened:
    fields = json.loads(body)
    return Opened(
        tuple(fields["ports"]),
        fields["scheduling"],
        tuple(fields["latencies"]),
        tuple(fields["lookaheads"]),
    )


_CODECS: Final[dict[type, tuple[int, Callable[[Any], bytes], Callable[[bytes], Message]]]] = {
    Hello: (1, _json, _read_json(Hello)),
    Opened: (2, _json, _read_opened),
    Failed: (3, _json, _read_json(Failed)),
    Left: (4, _json, _read_json(Left)),
    Dropped: (5, _json, _read_json(Dropped)),
    Ready: (16, _ready, _read_ready),
    Refused: (17, _json, _read_request(Refused)),
    Quit: (18, _json, _read_json(Quit)),
    Played: (19, _timed, _read_timed(Played)),
    Ordered: (20, _json, _read_json(Ordered)),
    Reordered: (21, _json, _read_reordered),
    Called: (22, _json, _read_json(Called)),
    Following: (23, _following, _read_following),
    Taught: (24, _json, _read_json(Taught)),
    Wanted: (32, _json, _read_request(Wanted)),
    Shown: (33, _json, _read_json(Shown)),
    Sent: (34, _timed, _read_timed(Sent)),
    Heard: (35, _timed, _read_timed(Heard)),
}
_READERS: Final = {kind: read for kind, _, read in _CODECS.values()}


def encode(message: Message) -> bytes:
    """One whole frame.

    Raises:
        PlayerError: if the body is longer than `MAX_BODY`.
    """
    kind, write, _ = _CODECS[type(message)]
    body = write(message)
    if len(body) > MAX_BODY:
        raise PlayerError(f"{type(message).__name__} takes {len(body)} bytes; allowed is {MAX_BODY}")
    return _HEADER.pack(len(body), kind) + body


class Decoder:
    """Turns bytes, in whatever pieces they come, into messages."""

    def __init__(self) -> None:
        self._buffer = bytearray()
        self._greeted = False

    def feed(self, data: bytes) -> list[Message]:
        """Every message completed by `data`, in order.

        Raises:
            PlayerError: if a frame is too long, of an unknown kind or unreadable, or the other side is of
                another version. The stream cannot be followed any more after that.
        """
        self._buffer += data
        messages = []
        while (message := self._next()) is not None:
            messages.append(message)
        return messages

    def _next(self) -> Message | None:
        if len(self._buffer) < _HEADER.size:
            return None
        length, kind = _HEADER.unpack_from(self._buffer)
        if length > MAX_BODY:
            raise PlayerError(f"a frame announces {length} bytes; allowed is {MAX_BODY}")
        if kind not in _READERS:
            raise PlayerError(f"a frame is of unknown kind {kind}")
        end = _HEADER.size + length
        if len(self._buffer) < end:
            return None
        body = bytes(self._buffer[_HEADER.size : end])
        del self._buffer[:end]
        return self._greet(_read(kind, body))

    def _greet(self, message: Message) -> Message:
        if not self._greeted:
            if not isinstance(message, Hello):
                raise PlayerError(f"the first frame is {type(message).__name__}; expected is Hello")
            if message.version != VERSION:
                raise PlayerError(f"the other process speaks version {message.version}; this one {VERSION}")
            self._greeted = True
        return message


def _read(kind: int, body: bytes) -> Message:
    try:
        return _READERS[kind](body)
    except (ValueError, TypeError, KeyError, AttributeError, struct.error) as error:
        raise PlayerError(f"a frame of kind {kind} cannot be read: {error}") from error


class Outbox:
    """Frames waiting for a socket that does not block. `put` and `flush` may be called from any thread.

    Args:
        send: takes bytes, returns how many it took; raises BlockingIOError when it can take none.
        limit: waiting bytes above which records are dropped and counted.
    """

    def __init__(self, send: Callable[[bytes], int], limit: int = OUTBOX_LIMIT) -> None:
        self._send = send
        self._limit = limit
        self._waiting: deque[bytes] = deque()
        self._size = 0
        self._untold = 0
        self._turn = threading.Lock()  # a frame must not begin in the middle of another thread's
        self.dropped = 0

    @property
    def pending(self) -> bool:
        """Whether `flush` has something left to do."""
        return bool(self._waiting)

    def put(self, message: Message) -> None:
        """Queues a message and writes what the socket takes. Never waits.

        Raises:
            OSError: if the other side is gone (BlockingIOError never).
        """
        with self._turn:
            self._queue(message)
            self._flush()

    def _queue(self, message: Message) -> None:
        if isinstance(message, Record) and self._size > self._limit:
            self.dropped += 1
            self._untold += 1
            return
        if self._untold and self._size <= self._limit:
            lost, self._untold = self._untold, 0
            self._append(encode(Dropped(lost)))
        self._append(encode(message))

    def _append(self, frame: bytes) -> None:
        self._waiting.append(frame)
        self._size += len(frame)

    def flush(self) -> None:
        """Writes what the socket takes. Never waits.

        Raises:
            OSError: if the other side is gone (BlockingIOError never).
        """
        with self._turn:
            self._flush()

    def _flush(self) -> None:
        while self._waiting:
            frame = self._waiting.popleft()
            try:
                taken = self._send(frame)
            except (BlockingIOError, InterruptedError):
                self._waiting.appendleft(frame)
                return
            self._size -= taken
            if taken < len(frame):
                self._waiting.appendleft(frame[taken:])
