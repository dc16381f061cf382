"""The daemon with its page: `introit run SET --stand` on a rig whose port is in memory, and what it says."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

SECONDS = 60.0
"""How long anything is waited for."""
RIG = """name: In memory
ports:
  main: {system: memory, to: synth}
parts:
  melody: {port: main, channel: 1}
  comp: {port: main, channel: 2}
  bass: {port: main, channel: 3}
  pedal: {port: main, channel: 4}
"""


class Daemon:
    """One evening in a folder.

    Args:
        folder: for its files.
        tunes: text of the set's file.
        name: of the set to run; the file's when left out.
        practise: what is practised and how, in place of a set.

    Attributes:
        set, log, home: the set's file, the log, and what INTROIT_HOME names.
        said: everything it has said.
        url: where the page is.
    """

    def __init__(
        self, folder: Path, tunes: str, *, name: str | None = None, practise: Sequence[str] = ()
    ) -> None:
        rig, self.set, self.log = folder / "rig.yaml", folder / "set.yaml", folder / "log.jsonl"
        self.home = folder / "home"
        self.home.mkdir()
        rig.write_text(RIG, encoding="utf-8")
        self.set.write_text(tunes, encoding="utf-8")
        what = ["practise", *practise] if practise else ["run", name or str(self.set)]
        run = [sys.executable, "-m", "introit", *what, "--rig", str(rig)]
        self._process = subprocess.Popen(
            [*run, "--seed", "1", "--log", str(self.log), "--stand", "--stand-port", "0"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
            env={**os.environ, "INTROIT_HOME": str(self.home), "PYTHONIOENCODING": "utf-8"},
        )
        self.said: list[str] = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        self.url = self.wait(r"stand page: (http\S+)")

    def _read(self) -> None:
        assert self._process.stdout is not None
        self.said.extend(self._process.stdout)

    def wait(self, pattern: str) -> str:
        """Waits for something to be said, and gives the pattern's group."""
        end = time.monotonic() + SECONDS
        while time.monotonic() < end:
            if found := re.search(pattern, "".join(list(self.said))):
                return found[found.lastindex or 0]
            time.sleep(0.02)
        raise AssertionError(f"{pattern!r} was not said: {self.said}")

    def sent(self, since: int = 0) -> list[bytes]:
        """Messages that went out, by its log, from a byte of the log on."""
        with self.log.open("rb") as log:
            log.seek(since)
            lines = [json.loads(line) for line in log if b'"sent"' in line and line.endswith(b"\n")]
        return [bytes.fromhex(line["sent"]) for line in lines]

    @property
    def so_far(self) -> int:
        """How long the log is now, for `sent`."""
        return self.log.stat().st_size

    def close(self) -> None:
        """Ends it."""
        self._process.terminate()
        self._process.wait(20)
        self._reader.join(20)
        assert self._process.stdout is not None
        self._process.stdout.close()
