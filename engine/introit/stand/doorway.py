"""Between the server and the routes: the gate, the headers that every answer carries, and errors as JSON."""

from __future__ import annotations

import json
import time
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any, Final

from introit.stand.gate import Asked, Gate, RefusalError

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

HEADERS: Final = (
    (
        b"content-security-policy",
        b"default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'none'; "
        b"frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=(), screen-wake-lock=(self)"),
    (b"cache-control", b"no-store"),
)
"""With every answer. No script, style or picture but our own files; no text is ever taken for HTML."""


class Doorway:
    """The app behind the gate.

    Args:
        app: the routes; they find who was let in as `visitor` in the scope's state.
        gate: lets in.
    """

    def __init__(self, app: App, gate: Gate) -> None:
        self._app = app
        self._gate = gate

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answers one request."""
        if scope["type"] != "http":
            return

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = [*message.get("headers", []), *HEADERS]
                if message["status"] >= 400:
                    headers.append((b"connection", b"close"))  # what is still to come of it is not read
                message = {**message, "headers": headers}
            await send(message)

        try:
            visitor = self._gate.admit(_asked(scope), time.monotonic(), time.time())
        except RefusalError as refusal:
            await _refuse(answer, refusal)
            return
        scope.setdefault("state", {})["visitor"] = visitor
        await self._app(scope, receive, answer)


def _asked(scope: Scope) -> Asked:
    found: dict[bytes, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.lower(), []).append(value.decode("latin-1"))

    def header(name: bytes, between: str = ", ") -> str | None:
        """Two of a kind are one that fits nothing."""
        return between.join(found[name]) if name in found else None

    return Asked(
        scope["method"],
        scope["path"],
        asked_at=(scope.get("server") or ("", 0))[0],
        client=(scope.get("client") or ("", 0))[0],
        host=header(b"host"),
        origin=header(b"origin"),
        fetch_site=header(b"sec-fetch-site"),
        content_type=header(b"content-type"),
        cookie=header(b"cookie", "; "),
    )


async def _refuse(send: Send, refusal: RefusalError) -> None:
    body = json.dumps({"error": str(refusal)}).encode("ascii")
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": refusal.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
