"""What was heard and sent: the log file, and the timing report made from it."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import TextIO

from introit.errors import IntroitError
from introit.live.events import Heard, Sent
from introit.units import NS_PER_MS


class LogFile:
    """One JSON line for each input heard and each message sent; times in nanoseconds of the session clock.

    A disk that fills ends the log, never the music: the first failed write is remembered in `failure` and the
    rest is dropped.
    """

    def __init__(self, path: Path) -> None:
        self.failure = ""
        try:
            self._file: TextIO | None = path.open("w", encoding="utf-8", buffering=1)
        except OSError as error:
            raise IntroitError(f"cannot write the log {str(path)!r}: {error.strerror}") from error

    def heard(self, heard: Heard) -> None:
        """Writes one input."""
        self._write({"heard": heard.data.hex(" "), "port": heard.port, "ns": heard.ns})

    def sent(self, sent: Sent) -> None:
        """Writes one message sent, with when it was to sound and when it did."""
        self._write(
            {"sent": sent.data.hex(" "), "port": sent.port, "ideal_ns": sent.ideal, "actual_ns": sent.actual}
        )

    def note(self, **fields: object) -> None:
        """Writes a line of another kind, such as how many records the player had to drop."""
        self._write(fields)

    def _write(self, fields: dict[str, object]) -> None:
        if self._file is None:
            return
        try:
            self._file.write(json.dumps(fields) + "\n")
        except OSError as error:
            self.failure = str(error.strerror)
            self._file = None

    def close(self) -> None:
        """Closes the file; a failure to flush is remembered like one to write."""
        if self._file is None:
            return
        try:
            self._file.close()
        except OSError as error:
            self.failure = str(error.strerror)
        self._file = None


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
