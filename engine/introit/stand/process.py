"""The stand's process: `python -m introit.stand.process --fd N --listen ADDRESS --port PORT`.

The front starts it and holds the other end of its socket. When that is gone, so is the front, and this ends
at once.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import datetime
import os
import socket
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from introit.errors import StandError
from introit.stand.addresses import names_for, shown_address
from introit.stand.asking import Questions
from introit.stand.board import Board
from introit.stand.certificate import Certificate, certificate
from introit.stand.devices import Devices
from introit.stand.gate import Gate
from introit.stand.hosts import Hosts, is_loopback, plain_names, url
from introit.stand.launch import PORT
from introit.stand.link import End, LinkError
from introit.stand.pages import Pages
from introit.stand.server import Stand, page_files, stand_app
from introit.stand.serving import Server, listening
from introit.stand.snapshot import Snapshot, SnapshotError

_TICK_SECONDS: Final = 1.0
_NICE: Final = 5
"""Behind the player and the front, whatever comes in."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Serves until the front is gone."""
    parser = argparse.ArgumentParser(prog="introit.stand.process")
    parser.add_argument("--fd", type=int, required=True, help="our end of the link")
    parser.add_argument("--listen", default="127.0.0.1", metavar="ADDRESS")
    parser.add_argument("--port", type=int, default=PORT)
    parser.add_argument("--name", action="append", default=[], help="a name that leads here")
    parser.add_argument("--data", type=Path, help="where devices and the certificate are kept")
    parser.add_argument("--tls", action="store_true")
    options = parser.parse_args(arguments)
    end = End(socket.socket(fileno=options.fd))
    with contextlib.suppress(OSError, AttributeError):  # Windows knows none
        os.nice(_NICE)
    try:
        asyncio.run(_Process(end, options).run())
    except StandError as error:
        end.put({"kind": "failed", "reason": str(error)})
        return error.exit_code
    return 0


class _Process:
    """The stand, between the link and the server."""

    def __init__(self, end: End, options: argparse.Namespace) -> None:
        self._end = end
        self._listener = listening(options.listen, options.port)
        address, self._port = self._listener.getsockname()[:2]
        self._address = shown_address(address)
        names = plain_names([*names_for(address), *options.name])
        self._certificate = _certificate(options, [*names, self._address]) if options.tls else None
        scheme = "https" if options.tls else "http"
        self._hosts = Hosts(scheme, self._port, names)
        files = page_files()
        gate = Gate(
            self._hosts,
            Devices(options.data, self._note),
            needs_pairing=not is_loopback(address),
            open_paths=files,
        )
        self._stand = Stand(gate, Board(), Pages(), Questions(self._tell), self._tell)
        self._app = stand_app(self._stand, files)

    async def run(self) -> None:
        """Serves until it is ended."""
        asyncio.get_running_loop().add_reader(self._end.fileno(), self._hear)
        ticking = asyncio.create_task(self._tick())
        server = Server(self._app, certificate=self._certificate, on_accepting=self._accepting)
        await server.serve([self._listener])
        ticking.cancel()

    def _accepting(self) -> None:
        self._tell(
            {
                "kind": "serving",
                "url": url(self._hosts.scheme, self._address, self._port),
                "pairing": self._stand.gate.needs_pairing,
                "fingerprint": "" if self._certificate is None else self._certificate.fingerprint,
            }
        )

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(_TICK_SECONDS)
            now = time.monotonic()
            gate = self._stand.gate
            gate.pairing.age(now)
            self._stand.look_at_code()
            gate.devices.reread()
            if self._stand.pages.overdue(now):
                self._stand.let_go()
            self._end.flush()

    # --- the link -----------------------------------------------------------------------------------

    def _tell(self, message: Any) -> bool:
        told = self._end.put(message)
        if self._end.pending:
            asyncio.get_running_loop().add_writer(self._end.fileno(), self._write)
        return told

    def _write(self) -> None:
        self._end.flush()
        if not self._end.pending:
            asyncio.get_running_loop().remove_writer(self._end.fileno())

    def _note(self, text: str) -> None:
        self._end.put({"do": "note", "text": text})

    def _hear(self) -> None:
        try:
            messages = self._end.receive()
        except LinkError:
            os._exit(0)  # nothing is worth a delay: what is to be kept is kept already
        for message in messages:
            self._take(message.pop("kind", None), message)

    def _take(self, kind: Any, message: dict[str, Any]) -> None:
        stand = self._stand
        if kind == "snapshot":
            try:
                stand.board.post(kind, Snapshot.from_dict(message).to_dict())
            except SnapshotError as error:
                self._note(str(error))
        elif kind in ("set", "lesson"):
            stand.board.post(kind, message)
        elif kind == "code":
            self._take_code(str(message.get("code") or ""), view=message.get("view") is True)
        elif kind == "revoke":
            stand.gate.devices.revoke(str(message.get("device")))
            stand.board.wake()
        elif kind == "answer":
            stand.questions.answer(message)

    def _take_code(self, code: str, *, view: bool) -> None:
        if not code:
            self._stand.gate.pairing.withdraw()
            return
        try:
            self._stand.gate.pairing.offer(code, time.monotonic(), view=view)
        except ValueError as error:
            self._note(str(error))


def _certificate(options: argparse.Namespace, names: Sequence[str]) -> Certificate:
    if options.data is None:
        raise StandError("HTTPS needs a folder where its certificate is kept")
    return certificate(options.data, names, datetime.datetime.now(datetime.UTC))


if __name__ == "__main__":
    raise SystemExit(main())
