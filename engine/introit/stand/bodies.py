"""A request's body as JSON: no longer than it may be, and whole in time."""

from __future__ import annotations

import asyncio
import json
from typing import Any, Final, NoReturn

from starlette.requests import ClientDisconnect, Request

from introit.stand.gate import RefusalError

LONGEST: Final = 16 * 1024
"""Bytes."""
SECONDS: Final = 5.0


async def read_object(request: Request, seconds: float = SECONDS) -> dict[str, Any]:
    """The object that a request holds.

    Raises:
        RefusalError: if it holds none, or it is too long, or does not come.
    """
    if not _length(request) <= LONGEST:
        raise _too_long()
    body = bytearray()
    try:
        async with asyncio.timeout(seconds):
            async for piece in request.stream():
                body += piece
                if len(body) > LONGEST:
                    raise _too_long()
    except TimeoutError as error:
        raise RefusalError(408, "What was sent did not come whole.") from error
    except ClientDisconnect as error:
        raise RefusalError(400, "What was sent did not come whole.") from error
    try:
        found = json.loads(body.decode("utf-8"), parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise RefusalError(400, "What was sent is no JSON.") from error
    if not isinstance(found, dict):
        raise RefusalError(400, "What was sent is no JSON object.")
    return found


def _length(request: Request) -> int:
    text = request.headers.get("content-length", "0")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 20 else LONGEST + 1


def _too_long() -> RefusalError:
    return RefusalError(413, f"What was sent is longer than {LONGEST} bytes.")


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is no number of JSON")
