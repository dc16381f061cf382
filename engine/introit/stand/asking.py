"""Questions to the front that want an answer: an edit of the set, so far."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from typing import Any, Final

ANSWER_SECONDS: Final = 5.0
_MOST: Final = 16
"""How many may be open."""


class NoAnswerError(Exception):
    """The front has not answered, in one plain sentence."""


class Questions:
    """Numbers questions and gives each the answer with its number.

    Args:
        tell: tells the front; False where it does not take it.
    """

    def __init__(self, tell: Callable[[Mapping[str, Any]], bool]) -> None:
        self._tell = tell
        self._count = 0
        self._open: dict[int, asyncio.Future[Mapping[str, Any]]] = {}

    async def ask(self, question: Mapping[str, Any], seconds: float = ANSWER_SECONDS) -> Mapping[str, Any]:
        """Asks and waits.

        Raises:
            NoAnswerError: if there is none within so many seconds.
        """
        if len(self._open) >= _MOST:
            raise NoAnswerError("Too much is asked at once. Try again.")
        self._count += 1
        number, answer = self._count, self._future()
        self._open[number] = answer
        try:
            if not self._tell({**question, "id": number}):
                raise NoAnswerError("The daemon does not listen. Try again.")
            async with asyncio.timeout(seconds):
                return await answer
        except TimeoutError as error:
            raise NoAnswerError("The daemon has not answered. Look whether it was done.") from error
        finally:
            del self._open[number]

    @staticmethod
    def _future() -> asyncio.Future[Mapping[str, Any]]:
        return asyncio.get_running_loop().create_future()

    def answer(self, message: Mapping[str, Any]) -> None:
        """Takes an answer; one that nobody waits for is passed over."""
        waiting = self._open.get(message.get("id", 0))
        if waiting is not None and not waiting.done():
            waiting.set_result(message)
