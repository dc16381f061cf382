"""JACK for benchmarks: a server of our own, with the dummy driver, in real-time mode; and its recorders."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from itertools import count
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "e2e"))

from jack_server import JackServer, JackUnavailableError
from recorder import Event, Recorder, owed

__all__ = ["Event", "JackServer", "JackUnavailableError", "Recorder", "Server", "owed", "server"]

_numbers = count()


class Server(JackServer):
    """A server whose own words are read.

    Args:
        name, log, period: as those of `JackServer`.
    """

    def __init__(self, name: str, log: Path, period: int) -> None:
        super().__init__(name, log, period=period)
        self._words = log

    def overruns(self, client: str) -> int:
        """How often the server has said so far that a client was not finished in time."""
        return self._words.read_text(errors="replace").count(f"client = {client} was not finished")


@contextmanager
def server(period: int = 128) -> Iterator[tuple[Server, ExitStack]]:
    """A server with a name that no other run has, and a stack for what must end before it does.

    Raises:
        JackUnavailableError: if none can be had.
    """
    with tempfile.TemporaryDirectory() as folder:
        name = f"introit-bench-{os.getpid()}-{next(_numbers)}"
        one = Server(name, Path(folder) / "jackd.log", period)
        try:
            one.start()
            with ExitStack() as stack:
                yield one, stack
        finally:
            one.stop()
