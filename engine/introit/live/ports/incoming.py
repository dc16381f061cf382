"""What came in on a port and waits for the loop: bounded, whatever a device sends.

A driver's thread puts, the loop takes. What is left out, in this order:

1. What nothing here reads, always and uncounted: system exclusive and pieces of it, Active Sensing, reset and
   the other system messages but song select (and the clock's, where the port's clock is followed); pressure
   and pitch bend; whatever cannot be one message. It does not even wake the loop.
2. Of one kind (a status and, for notes and controllers, a number) what comes while `OF_ONE_KIND` of it wait.
   So a stream takes no room from a foot-switch: another number, another kind.
3. Where `ALTOGETHER` wait, what comes of a kind of which `FEW` wait already: a foot's edges are few.

The loop takes all that waits many times a second; 2 and 3 are for a loop that stands still. What they leave
out is counted and told once, as `Flooded`. What befalls the port itself (`Lost`, `Gone`, ...) is always kept.
"""

from __future__ import annotations

from collections import deque
from typing import Final, Protocol

from introit.live.events import Flooded, Heard, PortEvent
from introit.live.messages import CLOCK, CONTINUE, SONG_POSITION, SONG_SELECT, START, STOP, Kind

LONGEST: Final = 3
"""Bytes of the longest message that anything here reads."""
OF_ONE_KIND: Final = 256
ALTOGETHER: Final = 8192
FEW: Final = 8

_READ: Final = (Kind.NOTE_OFF, Kind.NOTE_ON, Kind.CONTROL, Kind.PROGRAM)
_CLOCKED: Final = (CLOCK[0], START[0], CONTINUE[0], STOP[0], SONG_POSITION)


class Bytes(Protocol):
    """What a driver calls a message: anything that `bytes` takes and that knows its length."""

    def __len__(self) -> int: ...


class Incoming:
    """One port's.

    Args:
        port: its index in the setup.
        timing: whether its clock is followed.

    Attributes:
        left_out: how many messages were left out by rules 2 and 3.
    """

    def __init__(self, port: int, *, timing: bool) -> None:
        self.left_out = 0
        self._port = port
        self._system = (SONG_SELECT, *_CLOCKED) if timing else (SONG_SELECT,)
        self._waiting: deque[PortEvent] = deque()
        # Each thread writes but its own count, so that nothing has to be locked.
        self._put: dict[int, int] = {}
        self._taken: dict[int, int] = {}
        self._told = False

    # --- the driver's thread -------------------------------------------------------------------------

    def hear(self, ns: int, data: Bytes) -> bool:
        """Keeps a message that came in; whether there is something new to take."""
        if not 0 < len(data) <= LONGEST:
            return False
        message = bytes(data)  # type: ignore[call-overload]
        kind = self._kind(message)
        if kind is None:
            return False
        put = self._put.get(kind, 0)
        same = put - self._taken.get(kind, 0)
        if same >= (OF_ONE_KIND if len(self._waiting) < ALTOGETHER else FEW):
            self.left_out += 1
            return False
        self._put[kind] = put + 1
        self._waiting.append(Heard(self._port, ns, message))
        return True

    def tell(self, event: PortEvent) -> None:
        """Keeps what befell the port. From any thread."""
        self._waiting.append(event)

    # --- the loop's thread ---------------------------------------------------------------------------

    def take(self) -> list[PortEvent]:
        """All that waits, in order, each once."""
        events: list[PortEvent] = []
        while self._waiting:
            event = self._waiting.popleft()
            events.append(event)
            if isinstance(event, Heard) and (kind := self._kind(event.data)) is not None:
                self._taken[kind] = self._taken.get(kind, 0) + 1
        if self.left_out and not self._told:
            self._told = True
            events.append(Flooded(self._port, self.left_out))
        return events

    def _kind(self, message: bytes) -> int | None:
        """A number for the message's kind; None for what nothing here reads."""
        status = message[0]
        if status >= Kind.SYSTEM:
            return status << 7 if status in self._system else None
        if status & 0xF0 not in _READ:
            return None
        number = message[1] if len(message) == LONGEST and message[1] < 0x80 else 0
        return status << 7 | number
