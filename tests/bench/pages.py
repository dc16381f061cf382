"""How late note messages leave while pages for the music stand are open, one of them stuck.

    python tests/bench/pages.py [--short] [--json FILE]

The same evening three times: without the page, with its process and nobody looking, and with 20 pages, one of
which never reads (its connection fills up and stays full). Each is the installed command with a rig whose
port is in memory, started by the page's foot where there is one, by a key of a terminal where there is none;
lateness is what the command's own log says of each message. The first is the reference.
"""

from __future__ import annotations

import contextlib
import json
import os
import pty
import re
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

from _figures import Table, options, spread

RIG = """name: Bench
ports:
  main: {system: memory, to: synth}
parts:
  melody: {port: main, channel: 1}
  comp: {port: main, channel: 2}
  bass: {port: main, channel: 3}
  pedal: {port: main, channel: 4}
"""
SET = """title: Bench
tunes:
  - {title: Round, key: Bb, tempo: 200, feel: up-tempo-swing, intro: three-six-two-five, vamp: true}
"""
PAGES = 20
ON_A_TERMINAL = (
    "import fcntl,os,sys,termios; fcntl.ioctl(0,termios.TIOCSCTTY,0); os.execv(sys.argv[1],sys.argv[1:])"
)
"""Makes standard input the terminal of the process, as a shell does."""


def play(folder: Path, seconds: float, *, stand: bool, pages: int) -> list[float]:
    """Milliseconds from when each message was due to when it was sent."""
    rig, tunes, log = folder / "rig.yaml", folder / "set.yaml", folder / f"log-{time.monotonic_ns()}.jsonl"
    rig.write_text(RIG)
    tunes.write_text(SET)
    command = [sys.executable, "-m", "introit", "run", str(tunes), "--rig", str(rig), "--log", str(log)]
    if stand:
        command += ["--stand", "--stand-port", "0"]
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-c", ON_A_TERMINAL, *command],
        stdin=theirs,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    os.close(theirs)
    said: list[str] = []
    assert process.stdout is not None
    reader = threading.Thread(target=lambda: said.extend(process.stdout), daemon=True)  # type: ignore[arg-type]
    reader.start()
    try:
        _wait(said, "ready: Round")
        url = _wait(said, r"stand page: (\S+)") if stand else ""
        with _looking(url, pages):
            _wait(said, "keys: ")
            os.write(ours, b" ")
            _wait(said, "vamping")
            time.sleep(seconds)
    finally:
        process.terminate()
        process.wait(20)
        os.close(ours)
    sent = [json.loads(line) for line in log.read_text().splitlines() if '"sent"' in line]
    notes = [one for one in sent if int(one["sent"][:2], 16) & 0xE0 == 0x80]
    return [(one["actual_ns"] - one["ideal_ns"]) / 1e6 for one in notes]


def _wait(said: list[str], pattern: str) -> str:
    limit = time.monotonic() + 60
    while time.monotonic() < limit:
        for line in list(said):
            if found := re.search(pattern, line):
                return found[found.lastindex or 0]
        time.sleep(0.02)
    raise RuntimeError(f"{pattern!r} was not said: {said}")


@contextlib.contextmanager
def _looking(url: str, pages: int) -> Iterator[None]:
    """So many event streams; the first is opened and never read."""
    open_streams: list[object] = []
    host, port = (url.split("/")[2].rsplit(":", 1)) if pages else ("", "0")
    for number in range(pages):
        if number == 0:
            stuck = socket.create_connection((host, int(port)))
            stuck.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
            stuck.sendall(f"GET /events HTTP/1.1\r\nHost: {host}:{port}\r\n\r\n".encode())
            open_streams.append(stuck)
            continue
        stream = urllib.request.urlopen(f"{url}events", timeout=60)
        open_streams.append(stream)
        threading.Thread(target=_read, args=(stream,), daemon=True).start()
    yield
    for one in open_streams:
        with contextlib.suppress(Exception):
            one.close()  # type: ignore[attr-defined]


def _read(stream: object) -> None:
    with contextlib.suppress(Exception):
        while stream.readline():  # type: ignore[attr-defined]
            pass


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    chosen = options(__doc__ or "", short="five seconds each instead of forty")
    seconds = 5.0 if chosen.short else 40.0
    table = Table("pages")
    with tempfile.TemporaryDirectory() as name:
        for what, stand, pages in (
            ("without the page", False, 0),
            ("the page served, nobody looks", True, 0),
            (f"{PAGES} pages, one of them stuck", True, PAGES),
        ):
            late = play(Path(name), seconds, stand=stand, pages=pages)
            table.add(what, messages=len(late), **spread(late, "ms"))
    table.write(chosen.json)


if __name__ == "__main__":
    main()
