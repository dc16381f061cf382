"""The routes: what a page may get, and what it may ask for."""

from __future__ import annotations

import json
import re
import time
from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import PurePath
from typing import Any, Final

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from introit.live.states import Ask
from introit.stand.asking import NoAnswerError, Questions
from introit.stand.board import Board
from introit.stand.bodies import read_object
from introit.stand.commands import AWAY, CommandError, read_command
from introit.stand.devices import LONGEST_NAME
from introit.stand.doorway import App, Doorway
from introit.stand.gate import Gate, RefusalError, Visitor
from introit.stand.pages import Page, Pages

ALIVE_SECONDS: Final = 1.0
"""So often at least something is sent on an event stream, for the page to know that it is connected."""
_TYPES: Final = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}
_PAGE_NAME: Final = re.compile(r"[A-Za-z0-9_-]{0,40}", re.ASCII)


def page_files() -> dict[str, tuple[bytes, str]]:
    """Path -> bytes and type of each file of the page: all that is ever served of the disk, read once."""
    files = {}
    for file in resources.files("introit.stand").joinpath("page").iterdir():
        media_type = _TYPES.get(PurePath(file.name).suffix)
        if media_type is not None:
            path = "/" if file.name == "index.html" else f"/{file.name}"
            files[path] = (file.read_bytes(), media_type)
    return files


@dataclass(frozen=True, slots=True)
class Stand:
    """What the routes work on.

    Attributes:
        gate: who may come in.
        board: what is shown.
        pages: who looks, and who has pressed.
        questions: what is asked of the front.
        tell: tells the front; False where it does not take it.
    """

    gate: Gate
    board: Board
    pages: Pages
    questions: Questions
    tell: Callable[[Mapping[str, Any]], bool]

    def look_at_code(self) -> None:
        """Tells the front, once, that its code is good no more, and why."""
        gone = self.gate.pairing.take_gone()
        if gone:
            self.tell({"do": "code", "gone": gone})

    def let_go(self) -> None:
        """The foot-switch comes up."""
        self.tell({"do": "up", "at": time.monotonic_ns()})

    def close_lesson(self) -> None:
        """The foot starts intros again."""
        self.tell({"do": "lesson", "ask": Ask.CLOSE, "at": time.monotonic_ns()})


def stand_app(stand: Stand, files: Mapping[str, tuple[bytes, str]]) -> App:
    """The app behind its gate.

    Args:
        stand: what the routes work on.
        files: what `page_files` gives.
    """
    answers = _Answers(stand)
    routes = [_file_route(path, *found) for path, found in files.items()]
    routes += [
        Route("/events", answers.events, methods=["GET"]),
        Route("/time", answers.time, methods=["GET"]),
        Route("/do", answers.do, methods=["POST"]),
        Route("/pair", answers.pair, methods=["POST"]),
        Route("/set", answers.set, methods=["GET"]),
        Route("/set", answers.edit, methods=["POST"]),
    ]
    refusals = {HTTPException: _no_such_thing, RefusalError: _refused}
    app = Starlette(routes=routes, exception_handlers=refusals)
    app.router.redirect_slashes = False
    return Doorway(app, stand.gate)


def _file_route(path: str, data: bytes, media_type: str) -> Route:
    async def file(request: Request) -> Response:
        return Response(data, media_type=media_type)

    return Route(path, file, methods=["GET"])


class _Answers:
    """One method a route."""

    def __init__(self, stand: Stand) -> None:
        self._stand = stand

    async def time(self, request: Request) -> Response:
        return JSONResponse({"ns": time.monotonic_ns()})

    async def events(self, request: Request) -> Response:
        if request.method == "HEAD":
            return Response(media_type="text/event-stream")
        visitor = _visitor(request)
        page = _page(visitor, request.query_params.get("page", ""))
        if not self._stand.pages.open(page):
            raise RefusalError(429, "Too many pages are open. Close one.")
        if request.query_params.get("teach") == "1":
            self._stand.tell({"do": "teach"})
        return _EventStream(self._stand, visitor, page)

    async def do(self, request: Request) -> Response:
        stand, visitor, now = self._stand, _visitor(request), time.monotonic()
        given = await read_object(request)
        page = _page(visitor, given.pop("page", ""))
        try:
            command = {**read_command(given), "at": time.monotonic_ns()}
        except CommandError as error:
            raise RefusalError(400, str(error)) from error
        if command["do"] == "up":  # never too much: a switch that is down must come up
            if stand.pages.up(page):
                stand.tell(command)
            return _DONE
        stand.gate.check_command(visitor, now)
        if command["do"] == "down" and not stand.pages.down(page, now):
            if stand.pages.holder != page:
                raise RefusalError(409, "The foot-switch is held down on another page.")
            return _DONE
        if command["do"] == "lesson":
            command = self._lesson(command, page)
        if command and not stand.tell(command):
            stand.pages.up(page)
            raise RefusalError(503, "The daemon does not listen. Try again.")
        return _DONE

    def _lesson(self, command: dict[str, Any], page: Page) -> dict[str, Any]:
        """What the front is told of it; empty for nothing. Pages that have it open are counted here."""
        pages = self._stand.pages
        if command["ask"] == AWAY:
            return {**command, "ask": Ask.CLOSE} if pages.leave_lesson(page) else {}
        if command["ask"] == Ask.OPEN:
            pages.open_lesson(page)
        elif command["ask"] == Ask.CLOSE:
            pages.close_lessons()
        return command

    async def pair(self, request: Request) -> Response:
        stand, visitor = self._stand, _visitor(request)
        given = await read_object(request)
        code, name = given.get("code"), given.get("name", "")
        if not isinstance(code, str) or not isinstance(name, str) or len(name) > _LONGEST_TYPED:
            raise RefusalError(400, "To pair, send 'code' and 'name', both of them text.")
        now = {"now": time.monotonic(), "wall": time.time()}
        client = request.client.host if request.client else ""
        try:
            token, device = stand.gate.pair(code, name, client, before=visitor.device, **now)
        finally:
            stand.look_at_code()
        stand.tell({"do": "paired", "device": device.id, "name": device.name, "view": device.view})
        headers = {"set-cookie": stand.gate.cookie(token)}
        return JSONResponse({"device": device.id, "view": device.view}, headers=headers)

    async def set(self, request: Request) -> Response:
        return Response(self._stand.board.shown.get("set", _NO_SET), media_type="application/json")

    async def edit(self, request: Request) -> Response:
        given = await read_object(request)
        self._stand.gate.check_command(_visitor(request), time.monotonic())
        revision, edit = given.get("revision"), given.get("edit")
        if not isinstance(revision, str) or not isinstance(edit, dict) or len(given) > len(_EDIT):
            raise RefusalError(400, "An edit is an object with 'revision', a text, and 'edit', an object.")
        try:
            answer = await self._stand.questions.ask({"do": "edit", "revision": revision, "edit": edit})
        except NoAnswerError as error:
            raise RefusalError(503, str(error)) from error
        if answer.get("ok") is not True:
            status = 422 if answer.get("stale") is False else 409  # not possible; or seen too long ago
            raise RefusalError(status, str(answer.get("error") or "The daemon refused it."))
        return JSONResponse({name: answer[name] for name in _ANSWERED if name in answer})


class _EventStream(StreamingResponse):
    """What is new, as long as the page reads, and may."""

    def __init__(self, stand: Stand, visitor: Visitor, page: Page) -> None:
        super().__init__(self._events(), media_type="text/event-stream")
        self._stand, self._visitor, self._page = stand, visitor, page

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        try:
            await super().__call__(scope, receive, send)
        finally:
            if self._stand.pages.close(self._page):
                self._stand.let_go()
            if not self._stand.pages.is_open(self._page) and self._stand.pages.leave_lesson(self._page):
                self._stand.close_lesson()

    async def _events(self) -> AsyncIterator[bytes]:
        stand, device = self._stand, self._visitor.device
        hello = {
            "page": self._page.name,
            "paired": device is not None,
            "name": "" if device is None else device.name,
            "view": self._visitor.view,
        }
        yield _event("hello", json.dumps(hello).encode("ascii"))
        slip = stand.board.read()
        try:
            while stand.gate.is_welcome(self._visitor, time.time()):
                new = await slip.wait(ALIVE_SECONDS)
                for kind, data in new:
                    yield _event(kind, data)
                if not new:
                    yield _event("alive", b'{"now":%d}' % time.monotonic_ns())
        finally:
            stand.board.put_back(slip)


def _event(kind: str, data: bytes) -> bytes:
    return b"event: %s\ndata: %s\n\n" % (kind.encode("ascii"), data)


def _visitor(request: Request) -> Visitor:
    visitor: Visitor = request.state.visitor
    return visitor


def _page(visitor: Visitor, name: object) -> Page:
    if not isinstance(name, str) or not _PAGE_NAME.fullmatch(name):
        raise RefusalError(400, "'page' may have 40 letters, digits, hyphens and underscores.")
    return Page(visitor.key, name)


async def _no_such_thing(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    sentence = "That cannot be done here." if status == 405 else "There is no such thing here."
    headers = error.headers if isinstance(error, HTTPException) else None
    return JSONResponse({"error": sentence}, status_code=status, headers=headers)


async def _refused(request: Request, error: Exception) -> Response:
    status = error.status if isinstance(error, RefusalError) else 500
    return JSONResponse({"error": str(error)}, status_code=status)


_DONE: Final = Response(status_code=204)
_EDIT: Final = ("revision", "edit")
_ANSWERED: Final = ("ok", "revision", "offer")
_NO_SET: Final = b'{"revision":"","tunes":[]}'
_LONGEST_TYPED: Final = 4 * LONGEST_NAME
