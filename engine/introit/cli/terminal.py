"""The terminal in which the evening was started, key by key instead of line by line, and put back afterwards.

Standard library only: `termios` where there is one, `msvcrt` on Windows (not tried there).
"""

from __future__ import annotations

import contextlib
import os
import select
import signal
import socket
import sys
import time
from types import FrameType
from typing import IO, Any, Protocol

_MOST = 1024
"""Bytes taken in one read: nobody strikes so many keys at once."""
_AWAY_SECONDS = 0.25
"""How often one looks whether another job has given the terminal back."""
_STEP_SECONDS = 0.01
"""How often a Windows console, which nothing can wait for, is asked."""


class KeySource(Protocol):
    """Where keys come from."""

    def open(self) -> None:
        """From here on keys are taken one by one."""

    def read(self, seconds: float | None) -> bytes | None:
        """What was struck, waiting at most so long (None: without limit); b"" for nothing, None at the end.

        For one thread; `wake` ends its wait.
        """

    def wake(self) -> None:
        """Ends a `read`, from any thread."""

    def rest(self) -> None:
        """Puts everything back while the process is stopped; when it goes on, keys are taken again."""

    def close(self) -> None:
        """Puts everything back. Safe to call twice."""


def keys_of(stream: IO[Any]) -> KeySource | None:
    """The keys of the terminal behind a stream; None where it is no terminal, or another job has it."""
    try:
        if not stream.isatty():
            return None
        descriptor = stream.fileno()
    except (OSError, ValueError):  # closed, or no real file
        return None
    if sys.platform == "win32":
        return _Console()
    return _Terminal(descriptor) if _is_ours(descriptor) else None


if sys.platform == "win32":
    import msvcrt

    _CODES = {
        "H": "[A", "P": "[B", "M": "[C", "K": "[D", "G": "[H", "O": "[F", "I": "[5~", "Q": "[6~",
        "R": "[2~", "S": "[3~",
    }  # fmt: skip
    """Second character of a key that types nothing -> what a terminal would send after its escape."""

    class _Console:
        """A Windows console."""

        def __init__(self) -> None:
            self._awake = False

        def open(self) -> None:
            """See `KeySource.open`: a console gives keys one by one to whoever asks."""

        def read(self, seconds: float | None) -> bytes | None:
            """See `KeySource.read`."""
            limit = None if seconds is None else time.monotonic() + seconds
            while not msvcrt.kbhit():
                if self._awake or (limit is not None and time.monotonic() >= limit):
                    self._awake = False
                    return b""
                time.sleep(_STEP_SECONDS)
            struck = msvcrt.getwch()
            if struck in "\x00\xe0":
                code = _CODES.get(msvcrt.getwch(), "")
                return f"\x1b{code}".encode() if code else b""
            return struck.encode(errors="ignore")

        def wake(self) -> None:
            """See `KeySource.wake`."""
            self._awake = True

        def rest(self) -> None:
            """See `KeySource.rest`: nobody stops a process here."""

        def close(self) -> None:
            """See `KeySource.close`."""

else:
    import termios

    _QUIET_SIGNALS = (signal.SIGTTIN, signal.SIGTTOU)
    """What stops a job that reads or sets a terminal which another job has: that must not stop this one."""

    def _is_ours(descriptor: int) -> bool:
        with contextlib.suppress(OSError):
            return os.tcgetpgrp(descriptor) == os.getpgrp()
        return False

    class _Terminal:
        """A POSIX terminal.

        Ctrl-C and Ctrl-Z stay signals; output stays as it is. Whatever else could stop or end the process by
        a slip of the hand (Ctrl-S, Ctrl-backslash) is a key like others. A stop that nobody can catch is
        made good when the process goes on: the shell may have set the terminal its own way by then.
        """

        def __init__(self, descriptor: int) -> None:
            self._descriptor = descriptor
            self._before: list[Any] | None = None
            self._away = False
            self._handlers: dict[int, Any] = {}
            self._reader, self._writer = socket.socketpair()
            self._writer.setblocking(False)
            self._woken_before: int | None = None

        def open(self) -> None:
            """See `KeySource.open`. For the main thread, as signals are."""
            self._before = termios.tcgetattr(self._descriptor)
            for number in _QUIET_SIGNALS:
                self._handlers[number] = signal.signal(number, signal.SIG_IGN)
            self._handlers[signal.SIGCONT] = signal.signal(signal.SIGCONT, self._goes_on)
            self._handlers[signal.SIGQUIT] = signal.signal(signal.SIGQUIT, self._quit)
            # Python answers a signal between two instructions: one that comes just before the wait of `read`
            # begins would otherwise be answered after the next key.
            self._woken_before = signal.set_wakeup_fd(self._writer.fileno(), warn_on_full_buffer=False)
            self._enter()

        def _enter(self) -> None:
            mode = termios.tcgetattr(self._descriptor)
            mode[0] &= ~termios.IXON
            mode[3] &= ~(termios.ICANON | termios.ECHO | termios.IEXTEN)
            mode[6] = list(mode[6])
            mode[6][termios.VMIN], mode[6][termios.VTIME] = 1, 0
            mode[6][termios.VQUIT] = os.fpathconf(self._descriptor, "PC_VDISABLE")
            termios.tcsetattr(self._descriptor, termios.TCSANOW, mode)

        def _goes_on(self, _number: int, _frame: FrameType | None) -> None:
            self._away = not _is_ours(self._descriptor)
            if self._away:
                self.wake()
                return
            with contextlib.suppress(termios.error):
                self._enter()

        def _quit(self, number: int, _frame: FrameType | None) -> None:
            """Dies of the signal as it would have, with the terminal put back."""
            self._restore()
            signal.signal(number, signal.SIG_DFL)
            os.kill(os.getpid(), number)

        def read(self, seconds: float | None) -> bytes | None:
            """See `KeySource.read`."""
            if self._away:
                return self._wait_for_it()
            readable, _, _ = select.select([self._descriptor, self._reader.fileno()], [], [], seconds)
            if self._reader.fileno() in readable:
                self._reader.recv(_MOST)
            if self._descriptor not in readable:
                return b""
            try:
                return os.read(self._descriptor, _MOST) or None
            except OSError:  # hung up, or another job has it
                return self._wait_for_it()

        def _wait_for_it(self) -> bytes | None:
            """Another job has the terminal: once it is this one's again, keys are taken again.

            A shell that brings a running job to the front sends it nothing, so one has to look.
            """
            try:
                os.tcgetpgrp(self._descriptor)
            except OSError:
                return None
            self._away = not _is_ours(self._descriptor)
            if not self._away:
                self._goes_on(signal.SIGCONT, None)
            elif select.select([self._reader.fileno()], [], [], _AWAY_SECONDS)[0]:
                self._reader.recv(_MOST)
            return b""

        def wake(self) -> None:
            """See `KeySource.wake`."""
            with contextlib.suppress(OSError):
                self._writer.send(b"\0")

        def rest(self) -> None:
            """See `KeySource.rest`."""
            if self._before is not None and _is_ours(self._descriptor):
                with contextlib.suppress(termios.error):
                    termios.tcsetattr(self._descriptor, termios.TCSANOW, self._before)

        def close(self) -> None:
            """See `KeySource.close`. What was struck and not read is dropped: the shell must not take it."""
            self._restore()
            for number, handler in self._handlers.items():
                signal.signal(number, handler)
            self._handlers.clear()
            if self._woken_before is not None:
                signal.set_wakeup_fd(self._woken_before)
                self._woken_before = None
            self._reader.close()
            self._writer.close()

        def _restore(self) -> None:
            before, self._before = self._before, None
            if before is not None and _is_ours(self._descriptor):
                with contextlib.suppress(termios.error):
                    termios.tcflush(self._descriptor, termios.TCIFLUSH)
                    termios.tcsetattr(self._descriptor, termios.TCSANOW, before)  # never waits for output
