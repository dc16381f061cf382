"""How long from a press of the foot-switch to the first note, beside what was promised and beside an echo.

    python tests/bench/press.py [--short] [--json FILE]

A performance is ready and has no count-off. On an immediate port: the press is left in the loop's inbox by
another thread, as a MIDI driver does; the note is timed where a port in memory is handed it. Through JACK
(dummy driver, real-time mode), at three periods: one client plays the press on a known frame, another
records on which frame the note arrives; both are no part of the program. Promised are 3 ms, and two periods
and 1 ms.

For reference, in the same run: a plain echo in Python that answers each press with a note through mido's
messages and a queue; and `cyclictest`, how late a C program is woken.
"""

from __future__ import annotations

import gc
import json
import queue
import random
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from _figures import Table, options, spread
from _front import DOWN, UP, Front, setup
from _machine import add_cyclic
from _music import one_note
from _server import JackServer, JackUnavailableError, Recorder, server

PERIODS = (64, 128, 1024)
PROMISED_MS = 3.0
SETTLE = 0.03
"""Seconds for which the foot stays down, at least."""
MIDO = Path(__file__).with_name("_mido_player.py")


# --- on an immediate port, in a process of its own ---------------------------------------------------


def press_in_memory(count: int) -> list[int]:
    """Nanoseconds from each press to its first note, through the live loop as the player prepares it."""
    from introit.live.clock import SystemClock
    from introit.live.events import Event, Heard, Ordered, Played, Quit, Ready, Sent, Shown, Wanted
    from introit.live.inbox import Inbox
    from introit.live.ledger import Ledger
    from introit.live.loop import run
    from introit.live.ports.memory import MemoryPort
    from introit.live.session import Session
    from introit.live.states import Order, State
    from introit.live.system import prepare

    prepare()
    clock, inbox = SystemClock(), Inbox()
    performance, late, pressed = one_note(), [], [0]
    ready, sounded = threading.Semaphore(0), threading.Semaphore(0)

    class Link:
        """Answers what is wanted; tells the foot's thread when it is ready."""

        def __init__(self) -> None:
            self.waiting: queue.SimpleQueue[Event] = queue.SimpleQueue()

        def send(self, message: object) -> None:
            if isinstance(message, Wanted):
                self.waiting.put(Ready(message.request.tune, True, performance))
                inbox.wake()  # as a socket's other end would
            elif isinstance(message, Shown) and message.state == State.READY and message.what == "key":
                ready.release()

        def receive(self) -> list[Event | Played]:
            found: list[Event | Played] = []
            while not self.waiting.empty():
                found.append(self.waiting.get())
            return found

    def listen(sent: Sent) -> None:
        if sent.data[0] & 0xF0 == 0x90 and pressed[0]:
            late.append(sent.actual - pressed[0])
            pressed[0] = 0
            sounded.release()

    def foot() -> None:
        dice = random.Random(3)
        ready.acquire(timeout=10)
        for _ in range(count):
            time.sleep(0.05 + dice.random() * 0.02)
            pressed[0] = clock.now()
            inbox.put(Heard(0, pressed[0], DOWN))
            sounded.acquire(timeout=5)
            time.sleep(SETTLE)
            inbox.put(Heard(0, clock.now(), UP))
            time.sleep(SETTLE)
            inbox.put(Ordered(Order.SILENCE))
        inbox.put(Quit("done"))

    what = setup("memory", "", source="")
    gc.collect()
    gc.freeze()
    gc.disable()
    thread = threading.Thread(target=foot, daemon=True)
    thread.start()
    run(
        Session(what, [0]),
        clock,
        inbox=inbox,
        ports=[MemoryPort("synth", clock, listener=listen)],
        ledger=Ledger.create(bytearray(Ledger.size(1)), 1),
        link=Link(),
    )
    return late


def echo_in_memory(count: int) -> list[int]:
    """The same for two threads with a queue and a mido message between them."""
    import mido

    heard: queue.SimpleQueue[tuple[int, bytes]] = queue.SimpleQueue()

    def foot() -> None:
        dice = random.Random(3)
        for _ in range(count):
            time.sleep(0.05 + dice.random() * 0.02)
            heard.put((time.monotonic_ns(), DOWN))

    threading.Thread(target=foot, daemon=True).start()
    late = []
    for _ in range(count):
        pressed, data = heard.get()
        if mido.Message.from_bytes(data).value >= 64:
            bytes(mido.Message("note_on", note=60, velocity=80).bytes())
            late.append(time.monotonic_ns() - pressed)
    return late


ALONE = {"introit": press_in_memory, "echo": echo_in_memory}


def add_in_memory(table: Table, count: int) -> None:
    for name, what in (("introit", "introit"), ("echo", "reference: mido messages and a queue")):
        command = [sys.executable, __file__, "--alone", name, str(count)]
        done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=count + 60)
        late = json.loads(done.stdout)
        promise: dict[str, object] = {"ms promised": PROMISED_MS} if name == "introit" else {}
        table.add(
            f"{what}, immediate port",
            presses=len(late),
            **spread((ns / 1e6 for ns in late), "ms"),
            **promise,
        )


# --- through JACK -----------------------------------------------------------------------------------


class Feet:
    """Presses, and finds the note that answers."""

    def __init__(self, where: JackServer, stage: Recorder, listen: Recorder) -> None:
        self.rate, self.stage, self.listen = where.rate, stage, listen
        self.late: list[float] = []
        self._dice = random.Random(3)

    def press(self) -> None:
        """One press, up again after its note; a press that no note answers is not counted as any time."""
        time.sleep(0.05 + self._dice.random() * 0.02)
        before = len(self.listen.events())
        frame = self.stage.play_now(DOWN)
        events = self.listen.wait_until(
            lambda got: any(event.data[0] & 0xF0 == 0x90 for event in got[before:]), seconds=2.0
        )
        notes = [event for event in events[before:] if event.data[0] & 0xF0 == 0x90]
        if notes:
            self.late.append((notes[0].frame - frame) / self.rate * 1000)
        time.sleep(SETTLE)
        self.stage.play_now(UP)
        time.sleep(SETTLE)


def add_through_jack(table: Table, period: int, count: int) -> None:
    named = f"JACK at {period} frames a period"
    try:
        with server(period) as (where, stack), tempfile.TemporaryDirectory() as folder:
            stage, listen = Recorder("stage", where.environ), Recorder("listen", where.environ)
            stack.callback(stage.close)
            stack.callback(listen.close)
            feet = Feet(where, stage, listen)
            what = setup("jack", "listen:in", source="stage:out")
            with Front(what, one_note(), Path(folder), where.environ) as front:
                front.wait_ready()
                for _ in range(count):
                    feet.press()
                    front.say("silence")
                    front.wait_state("ready")
            promised = 2 * period * 1000 / where.rate + 1
            _add(table, f"introit, {named}", feet.late, count, **{"ms promised": round(promised, 3)})
            feet.late = []
            command = [sys.executable, str(MIDO), "echo", "stage:out", "listen:in"]
            echo = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=where.environ)
            try:
                assert echo.stdout is not None
                echo.stdout.readline()
                for _ in range(count):
                    feet.press()
            finally:
                echo.terminate()
                echo.wait()
            _add(table, f"reference: an echo in Python, {named}", feet.late, count)
    except JackUnavailableError as error:
        table.missing(f"introit, {named}", f"no JACK server: {error}")


def _add(table: Table, what: str, late: list[float], count: int, **more: object) -> None:
    table.add(what, presses=count, **spread(late, "ms"), **more, unanswered=count - len(late))


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    if sys.argv[1:2] == ["--alone"]:
        print(json.dumps(ALONE[sys.argv[2]](int(sys.argv[3]))))
        return
    chosen = options(__doc__ or "", short="10 presses instead of 200")
    count = 10 if chosen.short else 200
    table = Table("press")
    add_cyclic(table, "quiet", 1.0 if chosen.short else 10.0)
    add_in_memory(table, count)
    for period in PERIODS:
        add_through_jack(table, period, count)
    table.write(chosen.json)


if __name__ == "__main__":
    main()
