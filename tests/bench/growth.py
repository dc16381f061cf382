"""How cost grows: with events a second, with tunes in the set, with parts that sound.

    python tests/bench/growth.py [--short] [--json FILE]

Events and parts: the true loop and session on a clock that moves when told, so that what is measured is the
work alone, in microseconds of processor time an event, a port in memory included. That clock wakes the loop
for every single event; a real one gathers what is due together. Beside it mido's own file player on the same
notes, its sleep taken away, and without a port. Then the true player through JACK (dummy driver, real-time
mode, 48 kHz, 128 frames a period) at the same rates, in real time: percent of one core that its process
takes, frames off and events lost at an outside witness, as in `jack_frames.py`. A port writes one message for
every two frames at most; what is more in one period waits for the next, by design.

A part sounds on one channel or on several; 1 to 16 are that many channels on one port, a part each as far as
there are parts, then parts doubled.

Tunes: starts of `introit run` as in `start_up.py`, with PyYAML's reading of the same files beside each.
"""

from __future__ import annotations

import gc
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from unittest import mock

import start_up
from _figures import Table, options, percentile
from _front import Front, setup
from _music import FRAMES_A_TICK, RATE, messages, one_note, scattered, write_for_mido
from _server import JackServer, JackUnavailableError, Recorder, server
from jack_frames import compare, due_frames, within

from introit.live.events import Ready, Wanted
from introit.live.messages import control
from introit.live.setup import PortSetup, Route, Setup
from introit.performance import PLAYED_PARTS, Performance, PlayedNote
from introit.testing import Rehearsal
from introit.units import NS_PER_MS, NS_PER_SECOND

RATES = (10, 100, 1000, 5000, 20_000)
PARTS = (1, 2, 4, 8, 16)
TUNES = [10, 100, 1000, 10_000]
LOOKAHEAD_NS = 34 * NS_PER_MS
LEAST_EVENTS = 400


def worked(music: Performance, what: Setup) -> tuple[int, float]:
    """How many note messages went out, and seconds of the processor that the whole playing took."""

    def answer(wanted: Wanted) -> list[Ready]:
        return [Ready(wanted.request.tune, True, music)]

    seconds = music.head_tick * FRAMES_A_TICK // RATE + 3
    rehearsal = Rehearsal(what, answer, lookaheads=[LOOKAHEAD_NS])
    rehearsal.play(
        [(NS_PER_SECOND, control(0, 64, 127)), (NS_PER_SECOND + 60 * NS_PER_MS, control(0, 64, 0))]
    )
    gc.collect()
    began = time.process_time()
    rehearsal.run(seconds * NS_PER_SECOND)
    took = time.process_time() - began
    (receiver,) = rehearsal.receivers
    return sum(one.data[0] & 0xE0 == 0x80 for one in receiver.messages), took


def worked_by_mido(music: Performance, folder: Path) -> float:
    """Seconds of the processor that mido's player takes for the same notes, when it never sleeps."""
    import mido

    path = folder / "music.mid"
    write_for_mido(music, path)
    file = mido.MidiFile(path)
    with mock.patch("time.sleep"):
        began = time.process_time()
        for message in file.play():
            message.bytes()
        return time.process_time() - began


def add_rates(table: Table, rates: list[int], seconds: float, folder: Path) -> None:
    """The work alone, at each rate."""
    worked(one_note(), setup("memory", ""))  # the first playing pays for what is kept
    for rate in rates:
        music = scattered(max(LEAST_EVENTS, round(rate * seconds)), rate)
        events, took = worked(music, setup("memory", ""))
        reference = worked_by_mido(music, folder)
        table.add(
            f"{rate} events a second, the work alone",
            events=events,
            **{
                "us an event": round(took / events * 1e6, 1),
                "us an event, mido": round(reference / events * 1e6, 1),
            },
        )


def add_parts(table: Table, parts: list[int]) -> None:
    """The work alone, for so many channels that play the same rhythm."""
    for number in parts:
        used = min(number, len(PLAYED_PARTS))
        routes = tuple(Route(channel % used, 0, channel) for channel in range(number))
        what = Setup(ports=(PortSetup("synth", "memory", to=""),), routes=routes, tunes=1)
        music = _together(used)
        events, took = worked(music, what)
        table.add(
            f"{number} part{'s' * (number > 1)}, the work alone",
            events=events,
            **{"us an event": round(took / events * 1e6, 1), "us a strike": round(took / 400 * 1e6, 1)},
        )


def _together(parts: int) -> Performance:
    """Four hundred strikes of all parts at once, five a second."""
    held = one_note()
    notes = [
        PlayedNote(400 * n, 400 * n + 300, 400 * n, part, 40 + 5 * part, 80)
        for n in range(400)
        for part in range(parts)
    ]
    bar = held.bar_ticks
    head = -(-notes[-1].end // bar) * bar
    return replace(held, notes=tuple(notes), head_tick=head, end_tick=head)


def add_through_jack(table: Table, rates: list[int], seconds: float, folder: Path) -> None:
    """The true player in real time."""
    for rate in rates:
        what = f"{rate} events a second through JACK"
        music = scattered(max(20, round(rate * seconds)), rate)
        try:
            with server() as (where, stack):
                listen = Recorder("listen", where.environ)
                stack.callback(listen.close)
                share = _played(where, music, folder)
                got = [event for event in listen.events() if event.data[0] & 0xE0 == 0x80]
                skips = within(listen.skipped(), got)
            found = compare(due_frames(music), got, skips)
            off = sorted(map(abs, found.off))
            table.add(
                what,
                events=len(messages(music)),
                **{
                    "% of a core": round(share * 100, 2),
                    "frames p99": percentile(off, 0.99),
                    "frames worst": percentile(off, 1),
                },
                lost=found.lost,
                **{"in skipped cycles": found.skipped},
            )
        except JackUnavailableError as error:
            table.missing(what, f"no JACK server: {error}")


def _played(where: JackServer, music: Performance, folder: Path) -> float:
    """Plays it once; what share of one core the player's process took meanwhile."""
    seconds = music.head_tick * FRAMES_A_TICK / RATE
    with Front(setup("jack", "listen:in"), music, folder, where.environ) as front:
        front.wait_ready()
        used, began = start_up.processor_seconds(front.player), time.perf_counter()
        front.say("press")
        front.wait_state("in the tune", seconds + 60)
        return (start_up.processor_seconds(front.player) - used) / (time.perf_counter() - began)


def add_tunes(table: Table, sizes: list[int], folder: Path) -> None:
    """Starts with so many tunes in the set."""
    with start_up.surroundings(folder) as (environ, rig, system):
        for row in start_up.start_rows(folder, environ, rig, sizes, 1):
            what = str(row.pop("what"))
            table.add(what, **row)
        table.add("  those on", note=system)


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    chosen = options(__doc__ or "", short="fewer rates and parts, no tunes, a second each")
    table = Table("growth")
    short = chosen.short
    rates = [10, 1000, 20_000] if short else list(RATES)
    seconds = 1.0 if short else 5.0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        add_rates(table, rates, seconds, folder)
        add_parts(table, [1, 4, 16] if short else list(PARTS))
        add_through_jack(table, rates[-2:] if short else rates, seconds, folder)
        if short:
            table.missing("10 to 10,000 tunes", "`start_up.py --short` starts with 10 and 2,000")
        else:
            add_tunes(table, TUNES, folder)
    table.write(chosen.json)


if __name__ == "__main__":
    main()
