"""What the pages are shown now: the newest snapshot and the newest set, and who waits for a newer one."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Mapping
from typing import Any


class Slip:
    """What one reader has seen; a slow one finds the newest, and never what was between."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._seen: dict[str, bytes] = {}
        self._new = asyncio.Event()
        self._new.set()

    async def wait(self, seconds: float) -> list[tuple[str, bytes]]:
        """What is new by its kind, as JSON; empty where nothing is within so many seconds."""
        try:
            async with asyncio.timeout(seconds):
                await self._new.wait()
        except TimeoutError:
            return []
        self._new.clear()
        new = [(kind, data) for kind, data in self._board.shown.items() if self._seen.get(kind) is not data]
        self._seen.update(new)
        return new

    def wake(self) -> None:
        """Something is new."""
        self._new.set()


class Board:
    """Holds what is shown, each kind once, ready to be sent.

    Attributes:
        shown: kind -> JSON, in the order in which kinds first came.
    """

    def __init__(self) -> None:
        self.shown: dict[str, bytes] = {}
        self._slips: set[Slip] = set()

    def post(self, kind: str, value: Mapping[str, Any]) -> None:
        """Shows this from now on, in place of what was shown of its kind. ASCII, so that it is one line."""
        self.shown[kind] = json.dumps(value, separators=(",", ":"), allow_nan=False).encode("ascii")
        self.wake()

    def wake(self) -> None:
        """Has every reader look again, though nothing may be new."""
        for slip in self._slips:
            slip.wake()

    def read(self) -> Slip:
        """A reader who has seen nothing yet; `put_back` ends it."""
        slip = Slip(self)
        self._slips.add(slip)
        return slip

    def put_back(self, slip: Slip) -> None:
        """This one reads no more."""
        self._slips.discard(slip)
