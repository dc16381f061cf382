"""What tests of the command share: the library itself, and a process on a pseudo-terminal of its own."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator

import pytest

from introit.library.content import program_root
from introit.library.loader import load_library
from introit.library.model import Library

SECONDS = 20.0
"""Far more than anything here takes."""

LAUNCHER = """
import fcntl, os, resource, sys, termios
resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
os.execv(sys.executable, [sys.executable, *sys.argv[1:]])
"""
"""Makes standard input the controlling terminal of a new session, then becomes what is to be run."""


@pytest.fixture(scope="session")
def library() -> Library:
    """All that the program brings; whoever wants to change it takes a copy."""
    loaded, problems = load_library([program_root()])
    assert problems == []
    return loaded


class Stand:
    """A pseudo-terminal with a process on it, whose controlling terminal it is."""

    def __init__(self, arguments: list[str]) -> None:
        self._termios = pytest.importorskip("termios")
        self.master, self.slave = os.openpty()
        self.before = self._termios.tcgetattr(self.slave)
        self._text = ""
        self.process = subprocess.Popen(
            arguments,
            stdin=self.slave,
            stdout=self.slave,
            stderr=self.slave,
            start_new_session=True,
        )

    def strike(self, data: bytes) -> None:
        os.write(self.master, data)

    def until(self, words: str) -> str:
        """What is printed up to and with these words."""
        limit = time.monotonic() + SECONDS
        while words not in self._text:
            if not select.select([self.master], [], [], max(0, limit - time.monotonic()))[0]:
                raise AssertionError(f"no {words!r} in {self._text!r}")
            self._text += os.read(self.master, 65536).decode(errors="replace")  # a sign may be cut in two
        before, found, self._text = self._text.partition(words)
        return before + found

    def mode(self) -> dict[str, bool]:
        inputs, outputs, _, local, *_ = self._termios.tcgetattr(self.slave)
        termios = self._termios
        return {
            "by lines": bool(local & termios.ICANON),
            "echo": bool(local & termios.ECHO),
            "stops output": bool(inputs & termios.IXON),
            "signals": bool(local & termios.ISIG),
            "line ends": bool(outputs & termios.OPOST),
        }

    @property
    def restored(self) -> bool:
        return bool(self._termios.tcgetattr(self.slave) == self.before)

    def close(self) -> None:
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(SECONDS)
        os.close(self.master)
        os.close(self.slave)


@pytest.fixture
def start() -> Iterator[Callable[..., Stand]]:
    stands: list[Stand] = []

    def begin(*arguments: str) -> Stand:
        stands.append(Stand([sys.executable, "-c", LAUNCHER, *arguments]))
        return stands[-1]

    yield begin
    for stand in stands:
        stand.close()
