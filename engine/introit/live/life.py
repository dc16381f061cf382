"""One player process as the front has it: the process, its memory, and what it says."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
import tempfile
import threading
from collections.abc import Mapping, Sequence
from typing import Final

from introit.live.aftermath import release
from introit.live.process import above_standard_streams, start_player
from introit.live.setup import Setup
from introit.live.shared import Shared
from introit.live.system import hurry
from introit.live.wire import Decoder, Failed, Hello, Left, Outbox

PROGRAM: Final = (sys.executable, "-P", "-m", "introit.live.player")
DISMISS_SECONDS: Final = 2.0
"""How long one that plays nothing may take to end."""


class Life:
    """One player process, from its start to after its end.

    It starts before anybody knows what it will play, since starting takes time; `greet` tells it.

    Args:
        ports: how many there will be.
        program: the command that starts it.
        environ: its surroundings; this process's own when left out.
    """

    def __init__(
        self, ports: int, *, program: Sequence[str] = PROGRAM, environ: Mapping[str, str] | None = None
    ) -> None:
        self.setup: Setup | None = None
        self.shared = Shared.create(ports)
        self.words = tempfile.TemporaryFile()  # noqa: SIM115 - lives as long as the process does
        ours, theirs = map(above_standard_streams, socket.socketpair())
        try:
            self.process = start_player(
                program,
                dict(os.environ if environ is None else environ),
                theirs=theirs,
                memory=self.shared.memory.handle,
                log=self.words,
            )
        finally:
            theirs.close()
        self.socket = ours
        self.decoder = Decoder()
        self.outbox = Outbox(ours.send)
        self.released = 0
        self.left: Left | Failed | None = None
        self._thread = threading.Thread(target=self._bury, name="keeper", daemon=True)
        self._thread.start()

    def _bury(self) -> None:
        """Waits for the end, and releases what is owed then."""
        self.process.wait()
        if self.setup is None:
            return
        with hurry():  # however busy the machine is, what sounds on must end
            connections = self.shared.connections.read() or {}
            destinations = {index: names for index, (names, _) in connections.items()}
            self.released = release(self.setup, self.shared.ledger, destinations)

    def greet(self, setup: Setup) -> None:
        """Says what to play. That it has ended already is told when its answer is waited for."""
        self.setup = setup
        with contextlib.suppress(OSError):
            self.outbox.put(Hello(setup.to_json()))

    def dismiss(self) -> None:
        """Ends a player that was never greeted, and so owes nothing; leaves any other alone."""
        if self.setup is None:
            self.socket.close()
            self.process.terminate()
            if not self.wait_buried(DISMISS_SECONDS):
                self.process.kill()
                self.wait_buried(DISMISS_SECONDS)
            self.close()

    def wait_buried(self, seconds: float) -> bool:
        """Whether the process has ended and what it owed is released."""
        self._thread.join(seconds)
        return not self._thread.is_alive()

    def last_words(self) -> list[str]:
        """What the player and its drivers printed."""
        self.words.seek(0)
        return self.words.read().decode(errors="replace").splitlines()

    def close(self) -> None:
        """Lets go of everything; the process must have ended."""
        self.socket.close()
        self.words.close()
        self.shared.close()
