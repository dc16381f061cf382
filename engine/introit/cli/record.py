"""What was heard and sent: the log file, and the timing report made from it."""

from __future__ import annotations

import contextlib
import errno
import json
import logging
import os
import queue
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from introit import __version__
from introit.chatter import DRIVERS
from introit.errors import IntroitError
from introit.live.events import Heard, Sent
from introit.units import NS_PER_MS

_QUEUE_LINES = 100_000
_FAREWELL_SECONDS = 1.0


class LogFile:
    """One JSON line for each input heard and each message sent; times in nanoseconds of the session clock.

    A thread of its own writes, so that a slow or stalled disk delays nothing: what does not fit into its
    queue is dropped and counted. A disk that fills ends the log, never the music. Lines are added to a file
    that is there already; each run begins with a line that holds `introit` and the date.

    Attributes:
        failure: why writing ended early; empty while it goes well.
        dropped: lines that did not fit.
    """

    def __init__(self, path: Path, *, room: int = _QUEUE_LINES) -> None:
        self.failure = ""
        self.dropped = 0
        self._file = _opened(path)
        self._lines: queue.Queue[str | None] = queue.Queue(room)
        self._thread = threading.Thread(target=self._run, name="log", daemon=True)
        self._thread.start()
        self.note(introit=__version__, date=datetime.now(UTC).isoformat(timespec="seconds"))

    def heard(self, heard: Heard) -> None:
        """Writes one input."""
        self.note(heard=heard.data.hex(" "), port=heard.port, ns=heard.ns)

    def sent(self, sent: Sent) -> None:
        """Writes one message sent, with when it was to sound and when it did."""
        self.note(sent=sent.data.hex(" "), port=sent.port, ideal_ns=sent.ideal, actual_ns=sent.actual)

    def note(self, **fields: object) -> None:
        """Writes a line of another kind, such as how many records the player had to drop. Never waits."""
        try:
            self._lines.put_nowait(json.dumps(fields) + "\n")
        except queue.Full:
            self.dropped += 1

    def close(self) -> None:
        """Writes what is left and closes the file; a disk that stalls is waited for a second at most."""
        if self.dropped:
            self.note(dropped_here=self.dropped)
        with contextlib.suppress(queue.Full):
            self._lines.put(None, timeout=_FAREWELL_SECONDS)
        self._thread.join(_FAREWELL_SECONDS)
        if self._thread.is_alive():
            self.failure = self.failure or "the disk stalls"

    def _run(self) -> None:
        """The thread: writes line by line, and keeps emptying the queue when it cannot."""
        while (line := self._lines.get()) is not None:
            if not self.failure:
                self._try(lambda line=line: self._file.write(line))  # type: ignore[misc]
                if self._lines.empty():
                    self._try(self._file.flush)
        self._try(self._file.close)

    def _try(self, action: Callable[[], object]) -> None:
        try:
            action()
        except OSError as error:
            self.failure = self.failure or str(error.strerror)


class DriverWords(logging.Handler):
    """Writes what drivers print in this process into the log."""

    def __init__(self, log: LogFile) -> None:
        super().__init__(logging.INFO)
        self._log = log

    def emit(self, record: logging.LogRecord) -> None:
        """See `logging.Handler.emit`."""
        self._log.note(driver=record.getMessage())


@contextlib.contextmanager
def kept_log(path: Path | None) -> Iterator[LogFile | None]:
    """The log in a file while it lasts, drivers' words included; None for no file.

    Raises:
        IntroitError: when the file cannot be written.
    """
    if path is None:
        yield None
        return
    log = LogFile(path)
    words = DriverWords(log)
    level = DRIVERS.level
    DRIVERS.addHandler(words)
    DRIVERS.setLevel(logging.INFO)
    try:
        yield log
    finally:
        DRIVERS.setLevel(level)
        DRIVERS.removeHandler(words)
        log.close()


def _opened(path: Path) -> TextIO:
    """The file, to be added to. A pipe that nobody reads is refused instead of being waited for."""
    try:
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_NONBLOCK", 0)
        descriptor = os.open(path, flags, 0o666)
        if hasattr(os, "set_blocking"):
            os.set_blocking(descriptor, True)
        return os.fdopen(descriptor, "w", encoding="utf-8")
    except OSError as error:
        reason = "nobody reads this pipe" if error.errno == errno.ENXIO else error.strerror
        raise IntroitError(f"cannot write the log {str(path)!r}: {reason}") from error


@dataclass(slots=True)
class Timing:
    """How late note messages were, in nanoseconds (actual minus ideal)."""

    lateness: list[int] = field(default_factory=list)

    def add(self, sent: Sent) -> None:
        """Counts one message; only note-ons and note-offs count."""
        if sent.data[0] & 0xE0 == 0x80:
            self.lateness.append(sent.actual - sent.ideal)

    def summary(self) -> str:
        """One line: how many notes, and the lateness at the middle, at 99 % and at worst, in milliseconds."""
        if not self.lateness:
            return "timing: no note was sent"
        late = sorted(self.lateness)
        middle, most, worst = (late[int((len(late) - 1) * share)] / NS_PER_MS for share in (0.5, 0.99, 1.0))
        return (
            f"timing: {len(late)} note messages, late by {middle:.3f} ms (middle), {most:.3f} ms (99 %), "
            f"{worst:.3f} ms (worst) against the ideal grid"
        )
