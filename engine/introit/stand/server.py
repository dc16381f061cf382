"""The routes: what a page may get, and what it may ask for."""

from __future__ import annotations

import time
from collections.abc import AsyncIterator, Callable, Mapping
from importlib import resources
from pathlib import PurePath
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from introit.stand.board import Board
from introit.stand.commands import CommandError, read_command

ALIVE_SECONDS: Final = 1.0
"""So often at least something is sent on an event stream, for the page to know that it is connected."""
_TYPES: Final = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}


def stand_app(board: Board, tell: Callable[[Mapping[str, Any]], bool]) -> Starlette:
    """The app.

    Args:
        board: what is shown.
        tell: tells the front; False where the front does not take it.
    """

    async def events(request: Request) -> Response:
        return StreamingResponse(_stream(board), media_type="text/event-stream")

    async def clock(request: Request) -> Response:
        return JSONResponse({"ns": time.monotonic_ns()})

    async def do(request: Request) -> Response:
        try:
            command = read_command(await request.json())
        except CommandError as error:
            return JSONResponse({"error": str(error)}, status_code=400)
        tell(command)
        return Response(status_code=204)

    routes = [_page_route(path, *found) for path, found in page_files().items()]
    routes += [
        Route("/events", events, methods=["GET"]),
        Route("/time", clock, methods=["GET"]),
        Route("/do", do, methods=["POST"]),
    ]
    return Starlette(routes=routes)


def page_files() -> dict[str, tuple[bytes, str]]:
    """Path -> bytes and type of each file of the page: all that is ever served of the disk, read once."""
    files = {}
    for file in resources.files("introit.stand").joinpath("page").iterdir():
        media_type = _TYPES.get(PurePath(file.name).suffix)
        if media_type is not None:
            path = "/" if file.name == "index.html" else f"/{file.name}"
            files[path] = (file.read_bytes(), media_type)
    return files


def _page_route(path: str, data: bytes, media_type: str) -> Route:
    async def page(request: Request) -> Response:
        return Response(data, media_type=media_type)

    return Route(path, page, methods=["GET"])


async def _stream(board: Board) -> AsyncIterator[bytes]:
    slip = board.read()
    try:
        while True:
            new = await slip.wait(ALIVE_SECONDS)
            for kind, data in new:
                yield b"event: %s\ndata: %s\n\n" % (kind.encode(), data)
            if not new:
                yield b'event: alive\ndata: {"now":%d}\n\n' % time.monotonic_ns()
    finally:
        board.put_back(slip)
