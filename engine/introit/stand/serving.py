"""The sockets: where we listen, and uvicorn in this process on what was opened."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import ssl
from collections.abc import Callable, Iterator
from typing import Any, Final

import uvicorn

from introit.errors import StandError
from introit.stand.certificate import Certificate
from introit.stand.connections import Connection
from introit.stand.guests import Guests

KEEP_ALIVE_SECONDS: Final = 15
"""How long a connection may stand idle; a page asks for the time every 10 s."""
HANDSHAKE_SECONDS: Final = 5.0
_BACKLOG: Final = 128
_MOST_HEADERS: Final = 16 * 1024
_SEND_BYTES: Final = 64 * 1024
"""So much may wait in the system for one reader: some 100 snapshots."""
_UNHEARD_MS: Final = 10_000
"""A tablet that is out of reach is given up after so long, and its page with it."""


def listening(address: str, port: int) -> socket.socket:
    """A socket that listens.

    Args:
        address: an address of this machine or a name for one.
        port: 0 for one that is free.

    Raises:
        StandError: in one line.
    """
    try:
        family, kind, _, _, place = socket.getaddrinfo(
            address, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
    except (socket.gaierror, UnicodeError) as error:
        raise StandError(f"{address!r} is no address of this machine") from error
    listener = socket.socket(family, kind)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SEND_BYTES)
        if hasattr(socket, "TCP_USER_TIMEOUT"):
            listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, _UNHEARD_MS)
        listener.bind(place)
        listener.listen(_BACKLOG)
    except (OSError, OverflowError) as error:
        listener.close()
        reason = (isinstance(error, OSError) and error.strerror) or error
        raise StandError(f"the page cannot be served at {address}, port {port}: {reason}") from error
    return listener


class Server(uvicorn.Server):
    """Uvicorn on one socket, with patience of our own and no hand on the signals.

    Args:
        app: what answers.
        certificate: for HTTPS.
        on_accepting: called once it accepts.
    """

    def __init__(
        self, app: Any, *, certificate: Certificate | None, on_accepting: Callable[[], None]
    ) -> None:
        super().__init__(_config(app, certificate))
        self._on_accepting = on_accepting
        self._guests = Guests()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Accepts on the sockets; a handshake that does not come is given up."""
        await self.lifespan.startup()
        patience = None if self.config.ssl is None else HANDSHAKE_SECONDS
        loop = asyncio.get_running_loop()
        self.servers = [
            await loop.create_server(
                self._connection,
                sock=listener,
                ssl=self.config.ssl,
                backlog=_BACKLOG,
                ssl_handshake_timeout=patience,
            )
            for listener in sockets or ()
        ]
        self.started = True
        self._on_accepting()

    def _connection(self) -> Connection:
        made = Connection(self.config, self.server_state, self.lifespan.state)
        made.guests = self._guests
        return made

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leaves the signals as they are: they end the process at once, which keeps nothing waiting."""
        yield


def _config(app: Any, certificate: Certificate | None) -> uvicorn.Config:
    """HTTP/1.1 by h11, no web sockets, no words of its own, no proxy believed."""
    config = uvicorn.Config(
        app,
        loop="asyncio",
        http=Connection,
        ws="none",
        lifespan="off",
        log_config=None,
        log_level="error",
        access_log=False,
        proxy_headers=False,
        server_header=False,
        date_header=False,
        timeout_keep_alive=KEEP_ALIVE_SECONDS,
        h11_max_incomplete_event_size=_MOST_HEADERS,
        ssl_certfile=None if certificate is None else certificate.certificate,
        ssl_keyfile=None if certificate is None else certificate.key,
    )
    config.load()
    if config.ssl is not None:
        config.ssl.minimum_version = ssl.TLSVersion.TLSv1_2
    return config
