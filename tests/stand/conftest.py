"""The stand's server on a free port of this machine, in a thread, with a front that only writes down."""

from __future__ import annotations

import asyncio
import contextlib
import json
import socket
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from introit.stand.asking import Questions
from introit.stand.board import Board
from introit.stand.devices import Devices
from introit.stand.gate import Gate
from introit.stand.hosts import Hosts
from introit.stand.pages import Pages
from introit.stand.server import Stand, page_files, stand_app
from introit.stand.serving import Server, listening

PATIENCE = 30.0
"""Seconds after which a test that waits for the server has failed; nothing waits so long otherwise."""


@dataclass
class Answer:
    """What came back on a connection."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)

    @property
    def error(self) -> str:
        found = self.json["error"]
        assert isinstance(found, str)
        assert found.endswith("."), "one plain sentence"
        return found


class Line:
    """A bare connection: nothing is added to what a test sends."""

    def __init__(self, port: int, *, source: str = "127.0.0.1", receive_bytes: int = 0) -> None:
        self.socket = socket.socket()
        self.socket.settimeout(PATIENCE)
        if receive_bytes:
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive_bytes)
        self.socket.bind((source, 0))
        self.socket.connect(("127.0.0.1", port))
        self.file = self.socket.makefile("rb")

    def send(self, data: bytes | str) -> Line:
        self.socket.sendall(data if isinstance(data, bytes) else data.encode("latin-1"))
        return self

    def head(self) -> Answer:
        """Status and headers."""
        first = self.file.readline().split()
        headers: dict[str, str] = {}
        while (line := self.file.readline().strip()) != b"":
            name, _, value = line.decode("latin-1").partition(":")
            headers[name.lower()] = value.strip()
        return Answer(int(first[1]) if first else 0, headers, b"")

    def answer(self) -> Answer:
        """One whole answer; status 0 where the connection was closed without."""
        found = self.head()
        length = found.headers.get("content-length")
        if length is not None:
            found.body = self.file.read(int(length))
        return found

    def event(self) -> tuple[str, Any]:
        """The next event of a stream, whose head was read; an empty kind where it has ended."""
        kind, data = "", None
        while (line := self._chunked_line()) is not None:
            if line == b"":
                if kind:
                    return kind, data
            elif line.startswith(b"event: "):
                kind = line[7:].decode()
            elif line.startswith(b"data: "):
                data = json.loads(line[6:])
        return "", None

    def events_until(self, kind: str) -> Any:
        """What the next event of this kind holds."""
        while True:
            found, data = self.event()
            assert found, "the stream has ended"
            if found == kind:
                return data

    def _chunked_line(self) -> bytes | None:
        while b"\n" not in self._rest:
            size = self.file.readline().strip()
            if size in (b"", b"0"):
                return None
            self._rest += self.file.read(int(size, 16))
            self.file.readline()
        line, _, self._rest = self._rest.partition(b"\n")
        return line

    _rest = b""

    def is_closed(self) -> bool:
        """Waits until the other side closes; what it still sends is passed over."""
        with contextlib.suppress(ConnectionError):
            while self.file.read(65536):
                pass
        return True

    def close(self) -> None:
        self.file.close()
        self.socket.close()


@dataclass
class Served:
    """A stand that serves, and what its front was told."""

    stand: Stand
    server: Server
    port: int
    loop: asyncio.AbstractEventLoop
    told: list[dict[str, Any]]
    news: threading.Condition
    takes: bool = True
    lines: list[Line] = field(default_factory=list)

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.port}"

    @property
    def origin(self) -> str:
        return f"http://{self.host}"

    def do(self, work: Callable[[], Any]) -> Any:
        """Does something where the server runs, and waits for it."""

        async def done() -> Any:
            return work()

        return asyncio.run_coroutine_threadsafe(done(), self.loop).result(PATIENCE)

    def post(self, kind: str, value: Mapping[str, Any]) -> None:
        self.do(lambda: self.stand.board.post(kind, value))

    def wait_told(self, does: str) -> dict[str, Any]:
        """The first line of this kind that the front was told; waits for it."""
        with self.news:
            found = self.news.wait_for(
                lambda: next((line for line in self.told if line["do"] == does), None), PATIENCE
            )
        assert found, f"the front was not told {does}: {self.told}"
        return found

    def wait_asked(self, ask: str) -> dict[str, Any]:
        """The first line of a lesson that asks for this; waits for it."""
        with self.news:
            found = self.news.wait_for(
                lambda: next((line for line in self.told if line.get("ask") == ask), None), PATIENCE
            )
        assert found, f"the front was not asked to {ask}: {self.told}"
        return dict(found)

    def line(self, **how: Any) -> Line:
        made = Line(self.port, **how)
        self.lines.append(made)
        return made

    def ask(
        self,
        method: str,
        path: str,
        body: bytes | str | Mapping[str, Any] | None = None,
        *,
        cookie: str = "",
        source: str = "127.0.0.1",
        **changed: str | None,
    ) -> Answer:
        """One request as our own page makes it, on a connection of its own.

        `changed` are headers with underscores for hyphens; None leaves one out.
        """
        headers: dict[str, str | None] = {"host": self.host}
        if method != "GET":
            headers |= {"origin": self.origin, "content-type": "application/json"}
        if cookie:
            headers["cookie"] = cookie
        if isinstance(body, Mapping):
            body = json.dumps(body)
        data = body.encode() if isinstance(body, str) else body
        if data is not None:
            headers["content-length"] = str(len(data))
        headers |= {name.replace("_", "-"): value for name, value in changed.items()}
        head = "".join(f"{name}: {value}\r\n" for name, value in headers.items() if value is not None)
        line = self.line(source=source)
        return line.send(f"{method} {path} HTTP/1.1\r\n{head}\r\n".encode("latin-1") + (data or b"")).answer()

    def stream(self, cookie: str = "", page: str = "a", **how: Any) -> Line:
        """An open event stream, its head read."""
        line = self.line(**how)
        head = f"GET /events?page={page} HTTP/1.1\r\nHost: {self.host}\r\nCookie: {cookie}\r\n\r\n"
        assert line.send(head).head().status == 200
        return line

    def pair(self, code: str = "123456", *, view: bool = False, name: str = "tablet") -> str:
        """Pairs a device; its cookie."""
        self.offer(code, view=view)
        found = self.ask(
            "POST", "/pair", {"code": code, "name": name}, source=f"127.0.1.{len(self.lines) % 250 + 1}"
        )
        assert found.status == 200, found
        return found.headers["set-cookie"].partition(";")[0]

    def offer(self, code: str = "123456", *, view: bool = False) -> None:
        now = self.loop.time()  # the same monotonic clock
        self.do(lambda: self.stand.gate.pairing.offer(code, now, view=view))


def serve(folder: Path | None, *, needs_pairing: bool) -> Iterator[Served]:
    listener = listening("127.0.0.1", 0)
    port = listener.getsockname()[1]
    told: list[dict[str, Any]] = []
    news = threading.Condition()

    def tell(message: Mapping[str, Any]) -> bool:
        with news:
            if served.takes:
                told.append(dict(message))
                news.notify_all()
            return served.takes

    files = page_files()
    gate = Gate(Hosts("http", port), Devices(folder), needs_pairing=needs_pairing, open_paths=files)
    stand = Stand(gate, Board(), Pages(), Questions(tell), tell)
    accepting = threading.Event()
    server = Server(stand_app(stand, files), certificate=None, on_accepting=accepting.set)
    loop = asyncio.new_event_loop()
    served = Served(stand, server, port, loop, told, news)
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()
    asyncio.run_coroutine_threadsafe(server.serve([listener]), loop)
    assert accepting.wait(PATIENCE)
    try:
        yield served
    finally:
        for line in served.lines:
            line.close()
        asyncio.run_coroutine_threadsafe(_end(server), loop).result(PATIENCE)
        loop.call_soon_threadsafe(loop.stop)
        thread.join(PATIENCE)
        loop.close()


async def _end(server: Server) -> None:
    """Ends the server at once: uvicorn itself looks ten times a second whether it should."""
    for listener in server.servers:
        listener.close()
    for connection in list(server.server_state.connections):
        connection.transport.abort()
    others = asyncio.all_tasks() - {asyncio.current_task()}
    for task in others:
        task.cancel()
    await asyncio.gather(*others, return_exceptions=True)


@pytest.fixture
def here() -> Iterator[Served]:
    """A stand that only this machine can reach."""
    yield from serve(None, needs_pairing=False)


@pytest.fixture
def beyond(tmp_path: Path) -> Iterator[Served]:
    """A stand as others reach it: whoever comes must be paired."""
    yield from serve(tmp_path / "stand", needs_pairing=True)
