"""What still sounds at the receiver after the player, or the front, was killed in dense chords.

    python tests/bench/kills.py [--short] [--json FILE]

SIGKILL at a moment of chance while chords of twelve pitches follow each other in eighth-notes, through a JACK
server of our own (dummy driver, real-time mode). The receiver is a client in a process of its own; a pitch is
owed while it has had more note-ons than note-offs. Counted are pitches owed 300 ms after the kill by the
server's frames; how long it took until none was; and how often nothing sounded when it was killed, which says
nothing. When the player was killed its front starts another, which must not play by itself. On a quiet
machine, then some with every core kept busy by another program.

For reference, in the same run: mido's own file player through a plain JACK port, killed likewise.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from _figures import Table, options, spread
from _front import Front, setup
from _machine import busy
from _music import dense, write_for_mido
from _server import Event, JackServer, JackUnavailableError, Recorder, owed, server

A_SERVER = 20
"""Kills before the server is started anew: libjack's shared metadata breaks after some thirty."""
AFTER_MS = 300
WATCHED_SECONDS = 0.45
MIDO = Path(__file__).with_name("_mido_player.py")
CHORDS = dense(bars=30)


class Tally:
    """What came of the kills of one kind."""

    def __init__(self) -> None:
        self.sounding: list[int] = []
        self.owed: list[int] = []
        self.silent_ms: list[float] = []
        self.never_silent = 0
        self.failed: list[str] = []

    def judge(self, listen: Recorder, frame: int, before: int) -> None:
        """Reads what the receiver got around a kill.

        Args:
            listen: the receiver.
            frame: that was played when it was killed.
            before: how many events it had before this try.
        """
        events = listen.events()[before:]
        limit = frame + AFTER_MS * listen.rate // 1000
        self.sounding.append(_sum([event for event in events if event.frame <= frame]))
        self.owed.append(_sum([event for event in events if event.frame <= limit]))
        ends = _silent_from(events, frame)
        if ends is None:
            self.never_silent += 1
        elif self.sounding[-1]:
            self.silent_ms.append((ends - frame) * 1000 / listen.rate)

    def add(self, table: Table, what: str) -> None:
        """Its row."""
        table.add(
            what,
            kills=len(self.owed),
            **{
                "pitches sounding": round(sum(self.sounding) / max(1, len(self.sounding)), 1),
                "kills in silence": sum(not number for number in self.sounding),
                f"pitches owed after {AFTER_MS} ms": sum(self.owed),
                "tries with any": sum(number > 0 for number in self.owed),
                "never silent": self.never_silent,
            },
            **spread(self.silent_ms, "ms to silence", 1),
        )
        for why in self.failed:
            table.missing(f"  one of: {what}", why)


def _sum(events: list[Event]) -> int:
    return sum(owed(events).values())


def _silent_from(events: list[Event], frame: int) -> int | None:
    """The frame from which on nothing was owed, at the kill's earliest; None if something still is."""
    sounding: dict[tuple[int, int], int] = {}
    total, ends = 0, frame
    for at, data in events:
        if len(data) != 3 or data[0] & 0xE0 != 0x80:
            continue
        note = (data[0] & 0x0F, data[1])
        before = sounding.get(note, 0)
        on = data[0] & 0xF0 == 0x90 and data[2] > 0
        sounding[note] = before + 1 if on else max(0, before - 1)
        total += sounding[note] - before
        if before and not on and total == 0:
            ends = max(ends, at)
    return None if total else ends


def kill_ours(where: JackServer, listen: Recorder, folder: Path, dice: random.Random, who: str) -> int:
    """Plays into the chords and kills; returns the frame."""
    what = setup("jack", f"{listen.name}:in")
    with Front(what, CHORDS, folder, where.environ) as front:
        front.wait_ready()
        front.say("press")
        front.wait_state("playing")
        time.sleep(0.3 + dice.random() * 0.5)
        frame = listen.frame()
        if who == "player":
            os.kill(front.player, signal.SIGKILL)
            time.sleep(WATCHED_SECONDS)
        else:
            front.kill()
            time.sleep(WATCHED_SECONDS)
            _wait_gone(front.player)
    return frame


def kill_theirs(where: JackServer, listen: Recorder, folder: Path, dice: random.Random, _: str) -> int:
    """The same for mido's file player."""
    path = folder / "chords.mid"
    write_for_mido(CHORDS, path)
    player = subprocess.Popen(
        [sys.executable, str(MIDO), "play", str(path), f"{listen.name}:in"],
        stdout=subprocess.PIPE,
        text=True,
        env=where.environ,
    )
    try:
        assert player.stdout is not None
        player.stdout.readline()
        time.sleep(0.3 + dice.random() * 0.5)
        frame = listen.frame()
    finally:
        player.kill()
        player.wait()
    time.sleep(WATCHED_SECONDS)
    return frame


def _wait_gone(pid: int, seconds: float = 5.0) -> None:
    """A player whose front has died leaves by itself; one that does not is ended, and told."""
    limit = time.monotonic() + seconds
    while (state := _state(pid)) not in ("", "Z"):  # who inherits it may be slow to bury it
        if time.monotonic() > limit:
            os.kill(pid, signal.SIGKILL)
            raise RuntimeError(f"the player did not leave when its front was dead (state {state})")
        time.sleep(0.01)


def _state(pid: int) -> str:
    """A process's state as proc(5) has it, such as `Z` for one that has ended; empty for none."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return ""


def kill_often(
    tally: Tally, kill: Callable[[JackServer, Recorder, Path, random.Random, str], int], who: str, count: int
) -> None:
    """So many kills, on as many servers as that takes."""
    dice = random.Random(11)
    for first in range(0, count, A_SERVER):
        with server() as (where, stack), tempfile.TemporaryDirectory() as folder:
            for number in range(first, min(first + A_SERVER, count)):
                # A receiver of its own: what one try left owed must not be seen by the next.
                listen = Recorder(f"listen-{number}", where.environ)
                try:
                    frame = kill(where, listen, Path(folder), dice, who)
                    tally.judge(listen, frame, 0)
                except RuntimeError as error:
                    tally.failed.append(str(error))
                finally:
                    listen.close()
            del stack


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    chosen = options(__doc__ or "", short="5 kills of each instead of 100")
    table = Table("kills")
    count = 5 if chosen.short else 100
    few = max(2, count // 5)
    for what, kill, who, tries, workers in (
        ("player killed", kill_ours, "player", count, 0),
        ("front killed", kill_ours, "front", count, 0),
        ("player killed, every core busy", kill_ours, "player", few, None),
        ("front killed, every core busy", kill_ours, "front", few, None),
        ("reference: mido's file player killed", kill_theirs, "", few, 0),
    ):
        tally = Tally()
        try:
            with busy(workers):
                kill_often(tally, kill, who, tries)
            tally.add(table, what)
        except JackUnavailableError as error:
            table.missing(what, f"no JACK server: {error}")
    table.write(chosen.json)


if __name__ == "__main__":
    main()
