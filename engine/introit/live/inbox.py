"""The inbox: where any thread leaves an event, and what wakes the loop.

What devices send does not pass here, so nobody can fill it from outside: each port keeps that, bounded (see
`ports.incoming`), and only wakes.
"""

from __future__ import annotations

import contextlib
import select
import socket
from collections import deque

from introit.live.events import Event


class Inbox:
    """A queue from any number of threads to the loop, with a wake-up that `select` can wait for.

    `put` may be called from any thread, a driver's callback too: it appends and writes one byte without
    blocking. Everything else belongs to the loop's thread. (A socket pair, since Windows cannot select on a
    pipe.)
    """

    def __init__(self) -> None:
        self._events: deque[Event] = deque()
        self._reader, self._writer = socket.socketpair()
        self._reader.setblocking(False)
        self._writer.setblocking(False)
        self._watched: list[int] = []

    def put(self, event: Event) -> None:
        """Leaves an event and wakes the loop. Never blocks, never raises; after `close` it does nothing."""
        self._events.append(event)
        self.wake()

    def wake(self) -> None:
        """Ends a wait without leaving an event: a port has something in `heard`. As safe as `put`."""
        with contextlib.suppress(OSError):  # full: the loop is awake already; closed: nobody listens
            self._writer.send(b"\0")

    @property
    def pending(self) -> bool:
        """Whether there is something to drain."""
        return bool(self._events)

    def drain(self) -> list[Event]:
        """All that was put since the last call, in order, each once."""
        with contextlib.suppress(OSError):  # nothing to read
            while len(self._reader.recv(4096)) == 4096:
                pass
        events = []
        while self._events:
            events.append(self._events.popleft())
        return events

    def fileno(self) -> int:
        """What `select` can wait for: readable when something was put."""
        return self._reader.fileno()

    def watch(self, descriptor: int) -> None:
        """Lets a descriptor (the socket to the front) end a wait as well when it becomes readable."""
        self._watched.append(descriptor)

    def unwatch(self, descriptor: int) -> None:
        """Ends `watch`; nothing happens when it was not watched."""
        with contextlib.suppress(ValueError):
            self._watched.remove(descriptor)

    def wait(self, seconds: float | None) -> bool:
        """Sleeps until something was put, a watched descriptor is readable, or time is over (None: no limit).

        Returns:
            False when the time was over. A signal handler's exception passes through.
        """
        if self._events:
            return True
        # select, not poll or epoll: those round a timeout up to whole milliseconds.
        readable, _, _ = select.select([self.fileno(), *self._watched], [], [], seconds)
        return bool(readable)

    def close(self) -> None:
        """Gives the sockets back. Safe to call twice."""
        self._reader.close()
        self._writer.close()
