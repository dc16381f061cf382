"""The sockets: where we listen, and uvicorn in this process on what was opened."""

from __future__ import annotations

import socket
from typing import Any, Final

import uvicorn

from introit.errors import StandError

KEEP_ALIVE_SECONDS: Final = 15
"""How long a connection may stand idle; a page asks for the time every 10 s."""
_BACKLOG: Final = 128
_MOST_HEADERS: Final = 16 * 1024


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
        listener.bind(place)
        listener.listen(_BACKLOG)
    except OSError as error:
        listener.close()
        raise StandError(f"the page cannot be served at {address}, port {port}: {error.strerror}") from error
    return listener


def server(app: Any) -> uvicorn.Server:
    """A server for the app: HTTP/1.1 by h11, no web sockets, no words of its own, no proxy believed."""
    return uvicorn.Server(
        uvicorn.Config(
            app,
            loop="asyncio",
            http="h11",
            ws="none",
            lifespan="off",
            log_config=None,
            log_level="critical",
            access_log=False,
            proxy_headers=False,
            server_header=False,
            date_header=False,
            timeout_keep_alive=KEEP_ALIVE_SECONDS,
            h11_max_incomplete_event_size=_MOST_HEADERS,
        )
    )
