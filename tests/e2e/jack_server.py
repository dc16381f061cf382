"""A JACK server of our own: named, with the dummy driver: it touches no sound card and no other server."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

STARTS = 3
"""Tries to start a server before giving up."""
CLIENT_KILLS = 25
"""jackd 1.9.21 stops answering after some thirty clients were killed: it is started anew before that."""
ASK = "import jack; jack.Client('is-anybody-there', no_start_server=True).close()"


class JackUnavailableError(Exception):
    """Why no server can be had, in one line."""


class JackServer:
    """One server process.

    Args:
        name: what JACK_DEFAULT_SERVER names.
        log: file for what it prints.
        rate: frames a second.
        period: frames a period.
    """

    def __init__(self, name: str, log: Path, *, rate: int = 48000, period: int = 128) -> None:
        self.name = name
        self.rate = rate
        self.period = period
        self._log = log
        self._kills = 0
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def environ(self) -> dict[str, str]:
        """Surroundings for a process that is to use this server, and to start none itself."""
        return {**os.environ, "JACK_DEFAULT_SERVER": self.name, "JACK_NO_START_SERVER": "1"}

    @property
    def pid(self) -> int:
        """The server's process."""
        assert self._process is not None
        return self._process.pid

    def start(self) -> None:
        """Starts the server and waits until it answers.

        Raises:
            JackUnavailableError: if jackd is not installed or does not answer.
        """
        if shutil.which("jackd") is None:
            raise JackUnavailableError("jackd is not installed")
        for _ in range(STARTS):
            self._spawn()
            if self._answers():
                return
            self.stop()
        raise JackUnavailableError(f"jackd does not answer: {self._last_words()}")

    def _spawn(self) -> None:
        command = [
            "jackd",
            "-R",
            "-n",
            self.name,
            "-d",
            "dummy",
            "-r",
            str(self.rate),
            "-p",
            str(self.period),
        ]
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                command, stdout=subprocess.DEVNULL, stderr=log, start_new_session=True
            )

    def _answers(self) -> bool:
        limit = time.monotonic() + 5.0
        while time.monotonic() < limit and self._process is not None and self._process.poll() is None:
            # In a process of its own: libjack is not made for several servers' clients in one.
            asked = subprocess.run(
                [sys.executable, "-c", ASK], capture_output=True, text=True, env=self.environ, timeout=10
            )
            if asked.returncode == 0:
                return True
            if "JackOpenError" not in asked.stderr:
                raise JackUnavailableError(f"JACK-Client cannot be used: {asked.stderr.splitlines()[-1]}")
        return False

    def _last_words(self) -> str:
        lines = self._log.read_text(errors="replace").strip().splitlines()
        return lines[-1] if lines else "it printed nothing"

    def killed_a_client(self) -> None:
        """Counts a client that died without closing; after many, `fresh` starts the server anew."""
        self._kills += 1

    def fresh(self) -> JackServer:
        """This server, started anew if it has died or lost too many clients."""
        if self._process is None or self._process.poll() is not None or self._kills >= CLIENT_KILLS:
            self.stop()
            self.start()
        return self

    def signal(self, number: int) -> None:
        """Sends the server a signal."""
        os.kill(self.pid, number)
        if number == signal.SIGKILL and self._process is not None:
            self._process.wait()

    def stop(self) -> None:
        """Ends the server. Safe to call twice.

        JACK knows eight servers at most, and keeps the name of one that was killed until one of that name
        ends in order: so a killed one is started once more.
        """
        if self._process is None:
            return
        if self._process.poll() is not None:
            self._spawn()
            self._answers()
        process, self._process = self._process, None
        self._kills = 0
        if process.poll() is None:
            process.send_signal(signal.SIGCONT)
            process.terminate()
            try:
                process.wait(5)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
