"""How many frames off the ideal notes arrive through JACK, and how many never do, beside mido's file player.

    python tests/bench/jack_frames.py [--short] [--json FILE]

The server is our own (dummy driver, real-time mode, 48 kHz, 128 frames a period); the player is the true one,
a process of its own behind its front; the witness is a JACK client in another process that shares no code
with them. The music is note messages at times of chance, a thousand a second, each due on a whole frame; what
is compared is the frame on which the witness got it with the frame that the score says, counted from one and
the same origin (the median). Once quiet; once with every core kept busy by another program; once while the
front arranges without pause, collects garbage and reads a large set.

A cycle that the server itself skipped, or that some client overran, is told by the server to the witness; how
often it was the player that overran one, the server says in its log, and stands beside.
What was due in one, or within two periods of it, is counted apart: neither off nor lost. Such news may reach
the witness late; what it cannot be matched with counts as ours. What is a quarter of a second off or more, or
nearer to another message of the same bytes, cannot be told from what is lost.

For reference, in the same run: mido's file player on the same music through a plain JACK port, on the same
server and with the same witness; and `cyclictest`, a C program that wakes up once a period with a client's
priority: the machine's limit, in frames.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import NamedTuple

from _figures import Table, options, percentile
from _front import Front, setup
from _machine import NoCyclicTimerError, busy, cyclic
from _music import FRAMES_A_TICK, RATE, messages, scattered, write_for_mido
from _server import Event, JackUnavailableError, Recorder, Server, server

from introit.performance import Performance

PERIOD = 128
A_SECOND = 1000
MATCH_FRAMES = RATE // 4
"""So far off a message still counts as the one that was due; beyond it, or nearer another, it is lost."""
LOST = f"lost or {MATCH_FRAMES * 1000 // RATE} ms off"
MIDO = Path(__file__).with_name("_mido_player.py")


class Found(NamedTuple):
    """What came of the music: frames off of each message that came, and how many others there were."""

    off: list[int]
    lost: int
    skipped: int


def compare(
    due: Sequence[tuple[int, bytes]], got: Sequence[Event], skips: Sequence[tuple[int, int]]
) -> Found:
    """Finds for each message that was due the one that came, nearest in time.

    Args:
        due: (frame, message), frames from any origin.
        got: what the witness has, in its own frames.
        skips: spans of the witness's frames that the server skipped.
    """
    came: dict[bytes, list[int]] = defaultdict(list)
    for frame, data in got:
        came[data].append(frame)
    pairs: list[tuple[int, int]] = []
    missing: list[int] = []
    origin, reach = _first_guess(due, came), _reach(due)
    for _ in range(2):  # once more, from the median of all
        pairs, missing = [], []
        for frame, data in due:
            places = came[data]
            nearest = min(places, key=lambda place: abs(place - origin - frame), default=None)
            if nearest is None or abs(nearest - origin - frame) > reach:
                missing.append(frame)
            else:
                pairs.append((frame, nearest - frame))
        if pairs:
            origin = round(statistics.median(off for _, off in pairs))
    spans = [(start - 2 * PERIOD, end + 2 * PERIOD) for start, end in skips]

    def apart(frame: int) -> bool:
        return any(start <= frame + origin <= end for start, end in spans)

    kept = [off - origin for frame, off in pairs if not apart(frame)]
    lost = sum(not apart(frame) for frame in missing)
    return Found(kept, lost, len(due) - len(kept) - lost)


def _first_guess(due: Sequence[tuple[int, bytes]], came: dict[bytes, list[int]]) -> int:
    """The origin, from the first messages, each of which comes once in that time; one may be lost or off."""
    guesses = [came[data][0] - frame for frame, data in due[:200] if came[data]]
    return round(statistics.median(guesses))


def _reach(due: Sequence[tuple[int, bytes]]) -> int:
    """How far off a message can be and still not be taken for the next one that is the same."""
    before: dict[bytes, int] = {}
    reach = MATCH_FRAMES
    for frame, data in due:
        if data in before:
            reach = min(reach, (frame - before[data]) // 2)
        before[data] = frame
    return reach


def add(table: Table, what: str, found: Found, skips: Sequence[tuple[int, int]], overruns: int) -> None:
    """The row of one player under one load."""
    off = sorted(map(abs, found.off))
    exact = sum(frames == 0 for frames in off)
    table.add(
        what,
        events=len(off) + found.lost + found.skipped,
        **{"% exact": round(100 * exact / max(1, len(off)), 3)},
        off=len(off) - exact,
        **{"frames p99.9": percentile(off, 0.999), "frames worst": percentile(off, 1)},
        **{
            LOST: found.lost,
            "in skipped cycles": found.skipped,
            "skips": len(skips),
            "player overran": overruns,
        },
    )


def due_frames(music: Performance) -> list[tuple[int, bytes]]:
    """What is due, on which frame from the first downbeat."""
    return [(tick * FRAMES_A_TICK, data) for tick, data in messages(music)]


def play_ours(where: Server, listen: Recorder, music: Performance, folder: Path, *, works: bool) -> int:
    """Has the player play the music once; returns how many cycles it overran meanwhile."""
    seconds = music.head_tick * FRAMES_A_TICK / RATE
    with Front(setup("jack", f"{listen.name}:in"), music, folder, where.environ, works=works) as front:
        front.wait_ready()
        before = where.overruns("introit")
        front.say("press")
        front.wait_state("in the tune", seconds + 60)
        return where.overruns("introit") - before


def play_theirs(where: Server, listen: Recorder, music: Performance, folder: Path) -> int:
    """Has mido play the same."""
    path = folder / "music.mid"
    write_for_mido(music, path)
    command = [sys.executable, str(MIDO), "play", str(path), f"{listen.name}:in"]
    seconds = music.head_tick * FRAMES_A_TICK / RATE
    subprocess.run(command, check=True, capture_output=True, env=where.environ, timeout=seconds + 60)
    return where.overruns("mido-play")


def measure(table: Table, player: str, load: str, music: Performance) -> None:
    """One player under one load, on a server of its own."""
    crowd: AbstractContextManager[None] = busy() if load == "every core busy" else nullcontext()
    what = f"{player}: {load}"
    try:
        with server(PERIOD) as (where, stack), tempfile.TemporaryDirectory() as name:
            listen = Recorder("listen", where.environ)
            stack.callback(listen.close)
            with crowd:
                if player == "introit":
                    overruns = play_ours(where, listen, music, Path(name), works=load.startswith("front"))
                else:
                    overruns = play_theirs(where, listen, music, Path(name))
            got = [event for event in listen.events() if event.data[0] & 0xE0 == 0x80]
            skips = within(listen.skipped(), got)
            add(table, what, compare(due_frames(music), got, skips), skips, overruns)
    except JackUnavailableError as error:
        table.missing(what, f"no JACK server: {error}")


def within(skips: Sequence[tuple[int, int]], got: Sequence[Event]) -> list[tuple[int, int]]:
    """Those while the music played, not those while clients came and went."""
    begin, end = got[0].frame - 2 * PERIOD, got[-1].frame + 2 * PERIOD
    return [(start, stop) for start, stop in skips if stop >= begin and start <= end]


def add_limit(table: Table, load: str, seconds: float) -> None:
    """The machine's limit for who wakes up once a period."""
    what = f"reference: cyclictest, real-time, once a period: {load}"
    crowd: AbstractContextManager[None] = busy() if load == "every core busy" else nullcontext()
    try:
        with crowd:
            late = cyclic(seconds, real_time=True, interval_us=PERIOD * 1_000_000 // RATE)
        frames = {f"frames {name[:-3]}": round(ms * RATE / 1000) for name, ms in late.items()}
        table.add(what, **frames)
    except NoCyclicTimerError as error:
        table.missing(what, error)


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    chosen = options(__doc__ or "", short="2,000 events instead of 20,000")
    table = Table("jack_frames")
    music = scattered(2_000 if chosen.short else 20_000, A_SECOND)
    for load in ("quiet", "every core busy"):
        measure(table, "introit", load, music)
        measure(table, "mido", load, music)
        add_limit(table, load, 1.0 if chosen.short else 10.0)
    measure(table, "introit", "front arranges, collects and reads", music)
    table.write(chosen.json)


if __name__ == "__main__":
    main()
