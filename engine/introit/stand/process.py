"""The stand's process: `python -m introit.stand.process --fd N --listen ADDRESS --port PORT`.

The front starts it and holds the other end of its socket. When that is gone, so is the front, and this ends
at once.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import socket
from typing import Any

from introit.errors import StandError
from introit.stand.board import Board
from introit.stand.hosts import url
from introit.stand.link import End, LinkError
from introit.stand.server import stand_app
from introit.stand.serving import listening, server


def main(arguments: list[str] | None = None) -> int:
    """Serves until the front is gone."""
    parser = argparse.ArgumentParser(prog="introit.stand.process")
    parser.add_argument("--fd", type=int, required=True)
    parser.add_argument("--listen", default="127.0.0.1")
    parser.add_argument("--port", type=int, default=8742)
    parser.add_argument("--name", action="append", default=[])
    parser.add_argument("--data")
    parser.add_argument("--tls", action="store_true")
    options = parser.parse_args(arguments)
    end = End(socket.socket(fileno=options.fd))
    try:
        listener = listening(options.listen, options.port)
    except StandError as error:
        end.put({"kind": "failed", "reason": str(error)})
        return error.exit_code
    asyncio.run(_serve(end, listener))
    return 0


async def _serve(end: End, listener: socket.socket) -> None:
    board = Board()
    loop = asyncio.get_running_loop()

    def hear() -> None:
        try:
            messages = end.receive()
        except LinkError:
            os._exit(0)  # nothing is worth a delay: what is kept is kept already
        for message in messages:
            _take(board, message)

    loop.add_reader(end.fileno(), hear)
    address, port = listener.getsockname()[:2]
    end.put({"kind": "serving", "url": url("http", address, port)})
    await server(stand_app(board, end.put)).serve([listener])


def _take(board: Board, message: dict[str, Any]) -> None:
    kind = message.pop("kind", None)
    if kind in {"snapshot", "set"}:
        board.post(kind, message)


if __name__ == "__main__":
    raise SystemExit(main())
