"""A connection as uvicorn has it, with patience that ends: who sends nothing, or reads nothing, is let go."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any, Final

from uvicorn.protocols.http.h11_impl import H11Protocol

from introit.stand.guests import Guests

REQUEST_SECONDS: Final = 10.0
"""How long a request's line and headers may take to come whole."""
STUCK_SECONDS: Final = 15.0
"""How long whoever we send to may take nothing."""
_UNREAD_BYTES: Final = 16 * 1024
"""So much may wait in here for a reader; what is newest is chosen after that."""


class _Patience:
    """Calls something after so long, unless it is ended before."""

    def __init__(self, loop: asyncio.AbstractEventLoop, seconds: float) -> None:
        self._loop = loop
        self._seconds = seconds
        self._timer: asyncio.TimerHandle | None = None

    def begin(self, call: Callable[[], None]) -> None:
        """Begins, unless it has begun."""
        if self._timer is None:
            self._timer = self._loop.call_later(self._seconds, call)

    def end(self) -> None:
        """Ends it."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None


class Connection(H11Protocol):
    """One connection; `guests` is set by whoever serves."""

    guests: Guests

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._for_request = _Patience(self.loop, REQUEST_SECONDS)
        self._for_reading = _Patience(self.loop, STUCK_SECONDS)

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody has connected; whoever has to make room for them leaves."""
        super().connection_made(transport)
        transport.set_write_buffer_limits(high=_UNREAD_BYTES)
        leaves = self.guests.arrive(self, self.client[0] if self.client else "")
        if isinstance(leaves, Connection):
            leaves.transport.abort()
        self._for_request.begin(transport.abort)

    def connection_lost(self, exc: Exception | None) -> None:
        """The connection is no more."""
        self.guests.leave(self)
        self._for_request.end()
        self._for_reading.end()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Something came in."""
        if self._is_idle:
            self._for_request.begin(self.transport.abort)
        super().data_received(data)
        if not self._is_idle:
            self._for_request.end()
            self.guests.busy(self)

    def on_response_complete(self) -> None:
        """An answer has gone out whole."""
        super().on_response_complete()
        if self._is_idle:
            self.guests.idle(self)

    def pause_writing(self) -> None:
        """The other side takes nothing at present."""
        super().pause_writing()
        self._for_reading.begin(self.transport.abort)

    def resume_writing(self) -> None:
        """It takes something again."""
        self._for_reading.end()
        super().resume_writing()

    @property
    def _is_idle(self) -> bool:
        return self.cycle is None or self.cycle.response_complete  # type: ignore[redundant-expr]
