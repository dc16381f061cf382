"""An independent JACK client in a process of its own: records (frame, bytes) and plays bytes at frames.

It uses none of the project's code, so that the project's timing is not measured with its own ruler. Run as a
script it is the child: one JSON command a line on standard input, one JSON answer a line on standard output.
"""

from __future__ import annotations

import contextlib
import gc
import json
import os
import subprocess
import sys
import time
from collections import deque
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple


class Event(NamedTuple):
    """One MIDI event as it arrived: the server's frame, unwrapped from its start, and the bytes."""

    frame: int
    data: bytes


class Recorder:
    """The parent's handle. Ports: `NAME:in`, and `NAME:out` to play from; one more of each by `add`.

    One that is connected to a client both ways makes a loop in JACK's graph, which costs one of the ways a
    period: where frames are compared, take one recorder to play and another to listen.

    Args:
        name: the JACK client's name.
        environ: surroundings that name the JACK server.
        exact: False to let the server change the name where there is one already, as a second device's.
    """

    def __init__(self, name: str, environ: Mapping[str, str], *, exact: bool = True) -> None:
        self.name = name
        self._exact = exact
        self._known: dict[str, list[Event]] = {}
        hello = self._start(dict(environ))
        self.rate: int = hello["rate"]
        self.period: int = hello["period"]

    def _start(self, environ: dict[str, str]) -> Any:
        """Starts the child; a server that has only just come up may refuse the first."""
        for last in (False, False, True):
            self._child = subprocess.Popen(
                [sys.executable, str(Path(__file__)), self.name, *([] if self._exact else ["or another"])],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                env=environ,
            )
            try:
                return self._answer()
            except RuntimeError:
                self.close()
                if last:
                    raise
        return None

    def _ask(self, command: str, **values: Any) -> Any:
        assert self._child.stdin is not None
        self._child.stdin.write(json.dumps({"do": command, **values}) + "\n")
        self._child.stdin.flush()
        return self._answer()

    def _answer(self) -> Any:
        assert self._child.stdout is not None
        line = self._child.stdout.readline()
        if not line:
            raise RuntimeError(f"the recorder {self.name!r} died")
        answer = json.loads(line)
        if isinstance(answer, dict) and "error" in answer:
            raise RuntimeError(answer["error"])
        return answer

    def frame(self) -> int:
        """The frame being played now."""
        return int(self._ask("frame"))

    def events(self, port: str = "in") -> list[Event]:
        """Everything that has arrived so far, in order."""
        known = self._known.setdefault(port, [])
        new = self._ask("events", port=port, since=len(known))
        known += [Event(frame, bytes.fromhex(data)) for frame, data in new]
        return list(known)

    def skipped(self) -> list[tuple[int, int]]:
        """Spans of frames (from, to) that the server skipped or some client overran, as this one was told."""
        return [(start, end) for start, end in self._ask("skipped")]

    def play(self, messages: Sequence[tuple[int, bytes]], port: str = "out") -> None:
        """Plays each message at its frame; one whose frame has passed comes as soon as possible."""
        self._ask("play", port=port, messages=[(frame, data.hex()) for frame, data in messages])

    def play_now(self, data: bytes, port: str = "out") -> int:
        """Plays a message two periods ahead, on an exact frame that is returned."""
        return int(self._ask("play_now", port=port, data=data.hex()))

    def add(self, port: str, *, sends: bool) -> None:
        """Registers one more port."""
        self._ask("add", port=port, sends=sends)

    def ports(self) -> list[str]:
        """Every MIDI port on the server."""
        return list(self._ask("ports"))

    def connect(self, source: str, destination: str) -> None:
        """Connects two ports by their full names."""
        self._ask("connect", source=source, destination=destination)

    def connections(self, port: str) -> list[str]:
        """Full names of what a port, given by its full name, is connected to."""
        return list(self._ask("connections", port=port))

    def wait_for(self, count: int, *, port: str = "in", seconds: float = 5.0) -> list[Event]:
        """Waits until at least `count` events have arrived; returns what has, in time or not."""
        return self.wait_until(lambda events: len(events) >= count, port=port, seconds=seconds)

    def wait_until(self, enough: Any, *, port: str = "in", seconds: float = 5.0) -> list[Event]:
        """Waits until `enough(events)` is true; returns what has arrived, in time or not."""
        limit = time.monotonic() + seconds
        while not enough(events := self.events(port)) and time.monotonic() < limit:
            time.sleep(0.01)
        return events

    def wait_for_port(self, name: str, seconds: float = 5.0) -> None:
        """Waits until a port with this full name is there."""
        limit = time.monotonic() + seconds
        while name not in (ports := self.ports()):
            if time.monotonic() > limit:
                raise AssertionError(f"no port {name!r} after {seconds} s; there are {ports}")
            time.sleep(0.01)

    def wait_for_connection(self, port: str, seconds: float = 5.0) -> list[str]:
        """Waits until a port, given by its full name, is connected to something; returns to what."""
        limit = time.monotonic() + seconds
        while not (found := self.connections(port)):
            if time.monotonic() > limit:
                raise AssertionError(f"{port!r} is connected to nothing after {seconds} s")
            time.sleep(0.01)
        return found

    def alive(self) -> bool:
        """Whether its server and its process still answer."""
        try:
            return not self._ask("gone")
        except (RuntimeError, OSError, ValueError):  # ValueError: closed
            return False

    def kill(self) -> None:
        """Ends the process at once, as a crash would."""
        self._child.kill()
        self._child.wait()

    def close(self) -> None:
        """Ends the process in order."""
        if self._child.poll() is None:
            assert self._child.stdin is not None
            self._child.stdin.close()
            try:
                self._child.wait(5)
            except subprocess.TimeoutExpired:
                self.kill()
        assert self._child.stdout is not None
        self._child.stdout.close()
        if self._child.stdin is not None and not self._child.stdin.closed:
            self._child.stdin.close()


def owed(events: Sequence[Event]) -> dict[tuple[int, int], int]:
    """Notes still sounding at the receiver: (channel, pitch) to how many ons are unreleased.

    A receiver that stacks notes of one pitch is assumed (MIDI 1.0 leaves it open). Only note-offs release;
    controllers 120 and 123 do not.
    """
    sounding: dict[tuple[int, int], int] = {}
    for _, data in events:
        if len(data) != 3 or data[0] & 0xF0 not in (0x80, 0x90):
            continue
        note = (data[0] & 0x0F, data[1])
        if data[0] & 0xF0 == 0x90 and data[2]:
            sounding[note] = sounding.get(note, 0) + 1
        else:
            sounding[note] = max(0, sounding.get(note, 0) - 1)
    return {note: count for note, count in sounding.items() if count}


# --- the child -------------------------------------------------------------------------------------


class _Child:
    def __init__(self, name: str, *, exact: bool) -> None:
        import jack

        self.client = jack.Client(name, use_exact_name=exact, no_start_server=True)
        self.into = {"in": self.client.midi_inports.register("in")}
        self.out = {"out": self.client.midi_outports.register("out")}
        self.got: dict[str, list[tuple[int, str]]] = {"in": []}
        self.queue: dict[str, deque[tuple[int, bytes]]] = {"out": deque()}
        self.last = self.client.frame_time
        self.expected: int | None = None
        self.skips: list[tuple[int, int]] = []
        self.gone = False
        self.client.set_shutdown_callback(self.on_shutdown)
        self.client.set_xrun_callback(self.on_xrun)
        self.client.set_process_callback(self.process)
        self.client.activate()

    def on_shutdown(self, _status: object, _reason: str) -> None:
        self.gone = True

    def on_xrun(self, _delayed_microseconds: float) -> None:
        self.skips.append((self.last, self.last))

    def unwrap(self, counter: int) -> int:
        return self.last + ((counter - self.last + (1 << 31)) % (1 << 32)) - (1 << 31)

    def process(self, frames: int) -> None:
        start = self.unwrap(self.client.last_frame_time)
        if self.expected is not None and start != self.expected:
            self.skips.append((min(self.expected, start), start))
        self.last, self.expected = start, start + frames
        for name, port in list(self.into.items()):
            for offset, data in port.incoming_midi_events():
                self.got[name].append((start + offset, bytes(data).hex()))
        for name, port in list(self.out.items()):
            port.clear_buffer()
            queue = self.queue[name]
            while queue and queue[0][0] < start + frames:
                frame, data = queue.popleft()
                port.write_midi_event(max(0, frame - start), data)

    def answer(self, ask: dict[str, Any]) -> Any:
        do = ask["do"]
        if do == "gone":
            return self.gone
        if do == "skipped":
            return self.skips
        if do == "frame":
            return self.unwrap(self.client.frame_time)
        if do == "events":
            return self.got[ask["port"]][ask["since"] :]
        if do == "play":
            coming = [(frame, bytes.fromhex(data)) for frame, data in ask["messages"]]
            self.plan(ask["port"], sorted(coming, key=lambda item: item[0]))
            return None
        if do == "play_now":
            frame = self.unwrap(self.client.frame_time) + 2 * self.client.blocksize
            self.queue[ask["port"]].append((frame, bytes.fromhex(ask["data"])))
            return frame
        if do == "add":
            return self.add(ask["port"], sends=ask["sends"])
        if do == "ports":
            return [port.name for port in self.client.get_ports(is_midi=True)]
        if do == "connect":
            return self.client.connect(ask["source"], ask["destination"])
        if do == "connections":
            return [port.name for port in self.client.get_all_connections(ask["port"])]
        raise ValueError(f"no command {do!r}")

    def plan(self, name: str, coming: list[tuple[int, bytes]]) -> None:
        waiting = list(self.queue[name])
        if not waiting or not coming or waiting[-1][0] <= coming[0][0]:
            self.queue[name].extend(coming)  # the callback takes from its other end meanwhile
        else:
            self.queue[name] = deque(sorted(waiting + coming, key=lambda item: item[0]))

    def add(self, name: str, *, sends: bool) -> None:
        if sends:
            self.queue[name] = deque()
            self.out[name] = self.client.midi_outports.register(name)
        else:
            self.got[name] = []
            self.into[name] = self.client.midi_inports.register(name)


def _main(name: str, *, exact: bool) -> None:
    sys.setswitchinterval(0.0002)
    if hasattr(os, "SCHED_FIFO"):
        with contextlib.suppress(PermissionError):
            os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(2))
    child = _Child(name, exact=exact)
    gc.collect()
    gc.freeze()
    gc.disable()
    client = child.client
    print(json.dumps({"rate": client.samplerate, "period": client.blocksize}), flush=True)
    for line in sys.stdin:
        try:
            answer = child.answer(json.loads(line))
        except Exception as error:
            answer = {"error": f"{type(error).__name__}: {error}"}
        print(json.dumps(answer), flush=True)
    client.deactivate()
    client.close()


if __name__ == "__main__":
    _main(sys.argv[1], exact=len(sys.argv) == 2)
