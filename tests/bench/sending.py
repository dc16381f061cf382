"""How late note messages leave an immediate port, beside mido's own file player on the same music.

    python tests/bench/sending.py [--short] [--json FILE]

Each player runs alone in a process of its own, on the same intro, once on a quiet machine and once with every
core kept busy by another program. Ours is the live loop on the system clock and an immediate port in memory,
timed where the port is handed the message, without and with what the player asks of the system (real-time
scheduling where it is granted); mido's is `MidiFile.play()`, timed where it yields the message.
Late means after the ideal grid that starts with the first message.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

TEMPO = 132
INTRO = "three-six-two-five"
PERFORMANCE_SECONDS = 4 * 4 * 60 / TEMPO


def percentile(values: list[float], share: float) -> float:
    """The value below which `share` of the sorted values lie (nearest rank)."""
    return values[min(len(values) - 1, int(share * len(values)))]


def make_music(folder: Path) -> tuple[Path, Path]:
    """Writes the intro for both players: bytes of a performance, and a MIDI file."""
    from introit.arrange.arranger import ready
    from introit.cli.content import find_intro, open_library
    from introit.cli.options import tune_for
    from introit.export.midi_file import write_midi
    from introit.theory.key import Key

    library = open_library()
    intro = find_intro(library, INTRO)
    tune = tune_for(
        intro,
        library,
        key=Key.from_text("Bb"),
        tempo=TEMPO,
        meter=None,
        feel=None,
        first_chord=None,
        count_off=0,
    )
    performance = ready(tune, tune.key, library, intro=intro)
    ours, theirs = folder / "performance", folder / "music.mid"
    ours.write_bytes(performance.to_bytes())
    write_midi(performance, theirs)
    return ours, theirs


def play_ours(path: Path, rounds: int, *, asks: bool = False) -> list[int]:
    """Lateness in nanoseconds of each note message, through the live loop."""
    import gc

    from introit.live.clock import SystemClock
    from introit.live.events import Heard, Quit, Ready, Sent, Shown, Wanted
    from introit.live.inbox import Inbox
    from introit.live.ledger import Ledger
    from introit.live.loop import run
    from introit.live.messages import control
    from introit.live.ports.memory import MemoryPort
    from introit.live.session import Session
    from introit.live.setup import PortSetup, Route, Setup
    from introit.performance import PARTS, Performance

    if asks:
        from introit.live.system import prepare

        prepare()
    performance = Performance.from_bytes(path.read_bytes())
    late: list[int] = []

    class Front:
        """Presses the foot when ready, quits after the last landing."""

        def __init__(self) -> None:
            self.landings = 0
            self.waiting: list[object] = []

        def send(self, message: object) -> None:
            if isinstance(message, Wanted):
                self.waiting.append(Ready(message.request.tune, True, performance))
            elif isinstance(message, Sent) and message.data[0] & 0xE0 == 0x80:
                late.append(message.actual - message.ideal)
            elif isinstance(message, Shown) and message.what == "key":
                self.press()
            elif isinstance(message, Shown) and message.state == "in the tune" and message.what == "state":
                self.landings += 1
                self.waiting += [Quit("done")] if self.landings == rounds else []
                inbox.wake()
                if self.landings < rounds:
                    self.again = time.monotonic() + 0.6

        again = 0.0

        def press(self) -> None:
            for value in (127, 0):
                inbox.put(Heard(0, clock.now(), control(0, 64, value)))

        def receive(self) -> list[object]:
            if self.again and time.monotonic() > self.again:  # a double press: the same tune once more
                self.again = 0.0
                self.press()
                time.sleep(0.05)
                self.press()
                time.sleep(0.05)
                self.press()
            waiting, self.waiting = self.waiting, []
            return waiting

    clock, inbox = SystemClock(), Inbox()
    routes = tuple(Route(part=part, port=0, channel=part) for part in range(len(PARTS)))
    setup = Setup(ports=(PortSetup("memory", "memory", to=""),), routes=routes, tunes=1, log=True)
    port = MemoryPort("memory", clock)
    gc.collect()
    gc.freeze()
    gc.disable()
    run(
        Session(setup, [0]),
        clock,
        inbox=inbox,
        ports=[port],
        ledger=Ledger.create(bytearray(Ledger.size(1)), 1),
        link=Front(),  # type: ignore[arg-type]
    )
    return late


def play_theirs(path: Path, rounds: int) -> list[int]:
    """Lateness in nanoseconds of each note message from mido's file player."""
    import mido

    late = []
    for _ in range(rounds):
        file = mido.MidiFile(path)
        times, elapsed = [], 0.0
        for message in file:
            elapsed += message.time
            times.append(elapsed)
        start = time.monotonic_ns()
        playable = (at for at, message in zip(times, file, strict=True) if not message.is_meta)
        for at, message in zip(playable, file.play(), strict=True):
            now = time.monotonic_ns()
            if message.type in {"note_on", "note_off"}:
                late.append(now - start - round(at * 1e9))
    return late


PLAYERS: dict[str, Callable[[Path, int], list[int]]] = {
    "introit": play_ours,
    "introit, real-time": partial(play_ours, asks=True),
    "mido": play_theirs,
}


@contextmanager
def busy(workers: int) -> Iterator[None]:
    """So many processes that do nothing but compute."""
    crowd = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(workers)]
    try:
        yield
    finally:
        for worker in crowd:
            worker.kill()
            worker.wait()


def measure(player: str, path: Path, rounds: int) -> list[float]:
    """Sorted lateness in milliseconds, from a process of its own."""
    command = [sys.executable, __file__, "--child", player, "--music", str(path), "--rounds", str(rounds)]
    printed = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300).stdout
    return sorted(ns / 1e6 for ns in json.loads(printed))


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--short", action="store_true")
    parser.add_argument("--json", type=Path)
    parser.add_argument("--child", choices=list(PLAYERS))
    parser.add_argument("--music", type=Path)
    parser.add_argument("--rounds", type=int, default=1)
    options = parser.parse_args()
    if options.child:
        print(json.dumps(PLAYERS[options.child](options.music, options.rounds)))
        return
    rounds = 1 if options.short else 8
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        ours, theirs = make_music(Path(folder))
        for load, workers in (("quiet", 0), ("every core busy", os.cpu_count() or 1)):
            with busy(workers):
                for player in PLAYERS:
                    late = measure(player, theirs if player == "mido" else ours, rounds)
                    shares = {name: percentile(late, at) for name, at in (("p50", 0.5), ("p99", 0.99))}
                    row = {
                        "player": player,
                        "load": load,
                        "messages": len(late),
                        **shares,
                        "worst": late[-1],
                    }
                    rows.append(row)
                    print(
                        f"{player:18} {load:16} {len(late):5} messages  late by p50 {row['p50']:7.3f} ms  "
                        f"p99 {row['p99']:7.3f} ms  worst {row['worst']:7.3f} ms"
                    )
    if options.json:
        options.json.write_text(json.dumps({"bench": "sending", "rows": rows}, indent=2))


if __name__ == "__main__":
    main()
