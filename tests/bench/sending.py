"""How late note messages leave an immediate port, beside mido's own file player on the same music.

    python tests/bench/sending.py [--short] [--json FILE]

Each player runs alone in a process of its own, on the same intro, once on a quiet machine and once with every
core kept busy by another program. Ours is the live loop on the system clock and an immediate port in memory,
timed where the port is handed the message, without and with what the player asks of the system (real-time
scheduling where it is granted); mido's is `MidiFile.play()`, timed where it yields the message.
Late means after the ideal grid that starts with the first message. For ours the grid starts with the press,
so its first chord is as late as a press is answered (see `press.py`); it is counted, and once more left out.
In the same run, as the machine's limit: `cyclictest`, a C program that sleeps to a time each millisecond,
without and with real-time scheduling.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from _figures import Table, options, spread
from _machine import add_cyclic, busy
from _music import scattered, write_for_mido

TEMPO = 132
INTRO = "three-six-two-five"


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


def make_short(folder: Path) -> tuple[Path, Path]:
    """Writes two seconds of notes likewise."""
    performance = scattered(200, 100)
    ours, theirs = folder / "performance", folder / "music.mid"
    ours.write_bytes(performance.to_bytes())
    write_for_mido(performance, theirs)
    return ours, theirs


def play_ours(path: Path, rounds: int, *, asks: bool = False, pressed: bool = True) -> list[int]:
    """Lateness in nanoseconds of each note message, through the live loop.

    Args:
        path: the performance.
        rounds: how often it is played.
        asks: True to ask the system for all that the player asks for.
        pressed: False to leave out what a press starts at once: that is as late as the press is answered.
    """
    import gc

    from introit.live.clock import SystemClock
    from introit.live.events import Heard, Ordered, Quit, Ready, Sent, Shown, Wanted
    from introit.live.inbox import Inbox
    from introit.live.ledger import Ledger
    from introit.live.loop import run
    from introit.live.messages import control
    from introit.live.ports.memory import MemoryPort
    from introit.live.session import Session
    from introit.live.setup import PortSetup, Route, Setup
    from introit.live.states import Order
    from introit.performance import PARTS, Performance

    if asks:
        from introit.live.system import prepare

        prepare()
    performance = Performance.from_bytes(path.read_bytes())
    late: list[int] = []
    starts: set[int] = set()
    begun = [False]

    class Front:
        """Presses the foot when ready, quits after the last landing."""

        def __init__(self) -> None:
            self.landings = 0
            self.waiting: list[object] = []

        def send(self, message: object) -> None:
            if isinstance(message, Wanted):
                self.waiting.append(Ready(message.request.tune, True, performance))
                inbox.wake()  # as a socket's other end would
            elif isinstance(message, Sent) and message.data[0] & 0xE0 == 0x80:
                if begun[0]:
                    starts.add(message.ideal)
                    begun[0] = False
                if message.ideal not in starts or pressed:
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
            begun[0] = True
            for value in (127, 0):
                inbox.put(Heard(0, clock.now(), control(0, 64, value)))

        def receive(self) -> list[object]:
            if self.again and time.monotonic() > self.again:  # the same tune once more
                self.again = 0.0
                self.waiting.append(Ordered(Order.TUNE, value=0))
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
    "introit, real-time, without what the press starts": partial(play_ours, asks=True, pressed=False),
    "mido": play_theirs,
}


def measure(player: str, path: Path, rounds: int) -> list[float]:
    """Lateness of each message in milliseconds, from a process of its own."""
    command = [sys.executable, __file__, "--alone", player, str(path), str(rounds)]
    printed = subprocess.run(command, capture_output=True, text=True, check=True, timeout=600).stdout
    return [ns / 1e6 for ns in json.loads(printed)]


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    if sys.argv[1:2] == ["--alone"]:
        _, _, player, music, times = sys.argv
        print(json.dumps(PLAYERS[player](Path(music), int(times))))
        return
    chosen = options(__doc__ or "", short="two seconds of notes instead of an intro eight times")
    table = Table("sending")
    rounds = 1 if chosen.short else 8
    with tempfile.TemporaryDirectory() as folder:
        ours, theirs = make_short(Path(folder)) if chosen.short else make_music(Path(folder))
        for load, workers in (("quiet", 0), ("every core busy", None)):
            with busy(workers):
                add_cyclic(table, load, 1.0 if chosen.short else 10.0)
                for player in PLAYERS:
                    late = measure(player, theirs if player == "mido" else ours, rounds)
                    table.add(f"{player}: {load}", messages=len(late), **spread(late, "ms"))
    table.write(chosen.json)


if __name__ == "__main__":
    main()
