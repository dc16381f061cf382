"""How far the music drifts from its port's own clock: a day on the fake clock, minutes through JACK.

    python tests/bench/drift.py [--short] [--json FILE]

The day: the true loop and session on a clock that moves when told, at a tempo that no clock divides evenly; a
bar goes round until the day is over. The error of each note is what it sounds at less what its tick means in
exact fractions, in nanoseconds; 0 where none is off by a whole one. Twice: on an immediate port, and on one
that is handed its notes 34 ms ahead.

The minutes: the true player and mido's own file player at the same time on the same server (dummy driver,
48 kHz), each recorded by a client in a process of its own. The error of each beat is its frame less the frame
that the score says from the first beat on; the drift is the last minute's median error less the first's (in
the short form, quarters of the run).
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from _figures import Table, options
from _front import Front, setup
from _music import FRAMES_A_TICK, RATE, TEMPO, beat_tick, beats, going_round, performance, write_for_mido
from _server import Event, JackUnavailableError, Recorder, server
from jack_frames import within

from introit.live.events import Ready, Request, Wanted
from introit.live.messages import control
from introit.testing import rehearse, sketch_setup
from introit.units import NS_PER_MINUTE, NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

DAY_SECONDS = 24 * 60 * 60
ODD_TEMPO = 131.7
PERIOD = 128
MIDO = Path(__file__).with_name("_mido_player.py")


def add_day(table: Table, seconds: int, lookahead: int) -> None:
    """A day of a bar that goes round, on the fake clock."""
    bar = replace(going_round(1), tempo=ODD_TEMPO)

    def answer(wanted: Wanted) -> list[Ready]:
        request: Request = wanted.request
        return [Ready(request.tune, True, bar)]

    foot = [(NS_PER_SECOND, control(0, 64, 127)), (NS_PER_SECOND + 60 * NS_PER_MS, control(0, 64, 0))]
    day = rehearse(
        sketch_setup(tunes=1), answer, foot, lookaheads=[lookahead], until=(seconds + 1) * NS_PER_SECOND
    )
    ons = [one for one in day.sent if one.data[0] & 0xF0 == 0x90]
    pace = Fraction(NS_PER_MINUTE, 1) / (Fraction(str(ODD_TEMPO)) * TICKS_PER_QUARTER)
    first = ons[0].actual
    off = [one.actual - first - number * 4 * TICKS_PER_QUARTER * pace for number, one in enumerate(ons)]
    table.add(
        f"introit, fake clock, {'handed 34 ms ahead' if lookahead else 'immediate port'}",
        hours=round((ons[-1].actual - first) / NS_PER_SECOND / 3600, 3),
        notes=len(ons),
        **{
            "ns drift": int(abs(off[-1])),
            "ns worst": int(max(map(abs, off))),
            "ns late": max(one.actual - one.ideal for one in ons),
        },
    )


def errors(got: list[Event]) -> list[int]:
    """Frames that each note-on is off the score, from the first."""
    ons = [event.frame for event in got if event.data[0] & 0xF0 == 0x90]
    since = [frame - ons[0] for frame in ons]
    beat = TICKS_PER_QUARTER * FRAMES_A_TICK
    return [frame - beat_tick(round(frame / beat)) * FRAMES_A_TICK for frame in since]


def add_minutes(table: Table, seconds: int) -> None:
    """Both players at once over so many real seconds."""
    written = performance(beats(seconds * TEMPO // 60))
    try:
        with server(PERIOD) as (where, stack), tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            ours, theirs = Recorder("listen", where.environ), Recorder("listen-mido", where.environ)
            stack.callback(ours.close)
            stack.callback(theirs.close)
            write_for_mido(written, folder / "beats.mid")
            command = [sys.executable, str(MIDO), "play", str(folder / "beats.mid"), "listen-mido:in"]
            with Front(setup("jack", "listen:in"), going_round(), folder, where.environ) as front:
                front.wait_ready()
                reference = subprocess.Popen(command, stdout=subprocess.DEVNULL, env=where.environ)
                try:
                    front.say("press")
                    with suppress(subprocess.TimeoutExpired):
                        reference.wait(seconds + 60)
                finally:
                    reference.kill()
                    reference.wait()
                front.say("silence")
                front.wait_state("ready")
            for player, listen in (("introit", ours), ("reference: mido", theirs)):
                off = errors(listen.events())
                part = max(1, min(len(off) // 4, TEMPO))
                drift = statistics.median(off[-part:]) - statistics.median(off[:part])
                table.add(
                    f"{player}, JACK",
                    hours=round(seconds / 3600, 3),
                    notes=len(off),
                    **{
                        "ms drift": round(drift * 1000 / RATE, 3),
                        "frames drift": drift,
                        "frames worst": max(map(abs, off)),
                        "beats off": sum(frames != 0 for frames in off),
                        "skips": len(within(listen.skipped(), listen.events())),
                    },
                )
    except JackUnavailableError as error:
        table.missing("introit, JACK", f"no JACK server: {error}")


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    chosen = options(__doc__ or "", short="a quarter of an hour on the fake clock, five seconds through JACK")
    table = Table("drift")
    for lookahead in (0, 34 * NS_PER_MS):
        add_day(table, 900 if chosen.short else DAY_SECONDS, lookahead)
    add_minutes(table, 5 if chosen.short else 600)
    table.write(chosen.json)


if __name__ == "__main__":
    main()
