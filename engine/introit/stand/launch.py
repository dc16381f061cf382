"""How the front starts the stand's process, and ends it."""

from __future__ import annotations

import contextlib
import os
import select
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

from introit.errors import StandError
from introit.live.process import above_standard_streams
from introit.stand.link import End, LinkError, link

START_SECONDS: Final = 20.0
"""How long it may take until it accepts; it takes under a second on a quiet machine."""
_END_SECONDS: Final = 2.0
PORT: Final = 8742
"""Where the page is served when nobody says otherwise; assigned to nobody that we know of."""


@dataclass
class Launched:
    """A stand that was started.

    Attributes:
        process: its process.
        end: our end of the link.
        words: what it and its libraries printed.
        serving: the line in which it said where it serves; empty until `wait_serving`.
    """

    process: subprocess.Popen[bytes]
    end: End
    words: IO[bytes]
    serving: dict[str, Any]

    def wait_serving(self, seconds: float = START_SECONDS) -> dict[str, Any]:
        """Waits until it accepts.

        Raises:
            StandError: if it cannot, or has not begun within so many seconds; it is ended then.
        """
        until = time.monotonic() + seconds
        reason = f"the stand page did not begin within {seconds:g} s"
        try:
            while (left := until - time.monotonic()) > 0:
                select.select([self.end], [], [], left)
                for message in self.end.receive():
                    if message.get("kind") == "serving":
                        self.serving = message
                        return message
                    if message.get("kind") == "failed":
                        reason, until = str(message.get("reason")), 0.0
        except LinkError:
            reason = f"the stand page ended at once: {self.last_words() or 'without a word'}"
        self.stop()
        raise StandError(reason)

    def last_words(self) -> str:
        """The last line that it printed."""
        self.process.wait(_END_SECONDS)
        self.words.seek(0)
        lines = self.words.read().decode(errors="replace").split("\n")
        return next((line for line in reversed(lines) if line.strip()), "")

    def stop(self) -> None:
        """Ends it, if it has not ended."""
        self.end.close()
        try:
            self.process.wait(_END_SECONDS)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        with contextlib.suppress(OSError):
            self.words.close()


def start_stand(
    *,
    listen: str = "127.0.0.1",
    port: int = PORT,
    names: Sequence[str] = (),
    data: Path | None = None,
    tls: bool = False,
    wait: bool = True,
) -> Launched:
    """Starts the process.

    Args:
        listen: the address where it serves.
        port: 0 for one that is free.
        names: names beside the address by which it may be asked for.
        data: folder where paired devices and the certificate are kept; without one they are not.
        tls: True to serve by HTTPS.
        wait: True to return when it accepts.

    Raises:
        StandError: if it cannot serve.
    """
    end, theirs = link()
    theirs = above_standard_streams(theirs)
    words = tempfile.TemporaryFile()  # noqa: SIM115 - lives as long as the process does
    program = [sys.executable, "-P", "-m", "introit.stand.process", "--fd", str(theirs.fileno())]
    program += ["--listen", listen, "--port", str(port)]
    program += [word for name in names for word in ("--name", name)]
    program += ["--data", str(data)] if data else []
    program += ["--tls"] if tls else []
    try:
        process = subprocess.Popen(
            program,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=words,
            env={**os.environ, "PYTHONPATH": _path()},
            pass_fds=(theirs.fileno(),),
            start_new_session=True,  # Ctrl-C is the front's to hear
        )
    finally:
        theirs.close()
    stand = Launched(process, end, words, {})
    if wait:
        stand.wait_serving()
    return stand


def _path() -> str:
    root = str(Path(__file__).parents[2])
    return os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])
