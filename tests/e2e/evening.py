"""An evening in a test: the installed command as a process, and an independent client to play and listen."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import threading
import time
from bisect import bisect_right
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import mido

FOOT_DOWN, FOOT_UP = bytes((0xB0, 64, 127)), bytes((0xB0, 64, 0))
PARTS = {"melody": 0, "comp": 1, "bass": 2, "pedal": 3}
"""Channel of each part, from 0, in the rig below."""
FIRST = ("three-six-two-five", "--tempo", "240", "--feel", "medium-swing")
"""The first tune of the set below, as `introit write` is told it; its key is B flat."""

RIG = """\
name: Test stage
ports:
  synth: {system: jack, to: "listen:in"}
  floor: {system: jack, from: "stage:out"}
parts:
  melody: {port: synth, channel: 1, program: 27}
  comp: {port: synth, channel: 2, program: 5}
  bass: {port: synth, channel: 3, program: 33}
  pedal: {port: synth, channel: 4, program: 33}
foot_switch: {port: floor, message: control, number: 64, action: momentary}
key_zone: {port: floor, low: C1, high: B2, minor: third, window_ms: 250, starts: false}
"""

CLICKING = RIG.replace("foot_switch:", "  click: {port: synth, channel: 10, sound: beats}\nfoot_switch:")
"""The same with a click."""

SET = """\
title: Two for a test
tunes:
  - title: Copper Kettle Lane
    key: Bb
    meter: 4/4
    tempo: 240
    feel: medium-swing
    first_chord: I
    intro: three-six-two-five
  - title: The Slow Lift
    key: G minor
    meter: 4/4
    tempo: 200
    feel: medium-swing
    first_chord: i
    intro: dominant-vamp
    count_off: 1
"""

LAUNCHER = """
import fcntl, os, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
os.execv(sys.executable, [sys.executable, *sys.argv[1:]])
"""
"""Makes standard input the controlling terminal of a new session, then becomes what is to be run."""


class Note(NamedTuple):
    """A note message at a second from the first note-on."""

    seconds: float
    on: bool
    channel: int
    pitch: int


def command() -> list[str]:
    """The installed command, or the module where it is not installed beside this interpreter."""
    script = Path(sys.executable).with_name("introit")
    return [str(script)] if script.exists() else [sys.executable, "-m", "introit"]


class Evening:
    """One run of `introit run` and what happens around it.

    Args:
        folder: where rig, set and log are written.
        stage: the recorder that plays (foot and finger).
        listen: the recorder that listens (the synth).
        environ: names the JACK server.
        rig, tunes: the rig's and the set's file.
        typed: True to give it a terminal of its own to take keys from.
        options: more of `introit run`'s.
        practise: what and how, as `introit practise` is told it; None for `introit run` and the set.
    """

    def __init__(
        self,
        folder: Path,
        *,
        stage: Any,
        listen: Any,
        environ: dict[str, str],
        rig: str = RIG,
        tunes: str = SET,
        typed: bool = False,
        options: Sequence[str] = (),
        practise: Sequence[str] | None = None,
    ) -> None:
        self._terminal = os.openpty() if typed else None
        self.stage, self.listen = stage, listen
        self.log = folder / "log.jsonl"
        (folder / "rig.yaml").write_text(rig)
        (folder / "set.yaml").write_text(tunes)
        arguments = [
            *(["run", str(folder / "set.yaml")] if practise is None else ["practise", *practise]),
            "--rig",
            str(folder / "rig.yaml"),
            "--log",
            str(self.log),
            "--seed",
            "0",  # what `introit write` takes, so that the two can be compared
            *options,
        ]
        begin = [sys.executable, "-c", LAUNCHER, "-m", "introit"] if typed else command()
        self.process = subprocess.Popen(
            [*begin, *arguments],
            stdin=None if self._terminal is None else self._terminal[1],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environ,
            start_new_session=True,
        )
        self._lines: queue.Queue[str] = queue.Queue()
        self.printed: list[str] = []
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._lines.put(line.rstrip("\n"))

    def wait_for(self, words: str, seconds: float = 20.0) -> str:
        """Waits for a printed line that holds these words."""
        limit = time.monotonic() + seconds
        while time.monotonic() < limit:
            try:
                line = self._lines.get(timeout=0.1)
            except queue.Empty:
                if self.process.poll() is not None and self._lines.empty():
                    break
                continue
            self.printed.append(line)
            if words in line:
                return line
        raise AssertionError(f"no line with {words!r}; printed: {self.printed}; {self.errors()}")

    def errors(self) -> str:
        """Standard error, once the process has ended."""
        assert self.process.stderr is not None
        return self.process.stderr.read() if self.process.poll() is not None else "(still running)"

    def skips(self) -> Skips:
        """Where cycles were skipped so far, as the listener was told."""
        return Skips(self.listen.skipped(), self.listen.rate)

    def notes(self) -> list[Any]:
        """The note messages that the listener has heard so far."""
        return [event for event in self.listen.events() if event.data[0] & 0xE0 == 0x80]

    def agrees(self, heard: Sequence[Message], written: Sequence[Note]) -> None:
        """Checks that what is written was heard, each message on its frame, but for what was skipped."""
        # A frame for each end's rounding, and the file's tempo is in whole microseconds a quarter.
        expected = placed(written, heard, self.listen.rate, by=2)
        self.skips().agree(heard, expected, by=2)

    def press(self, down_for: float = 0.05) -> int:
        """The foot goes down, and up again; returns the frame of the press."""
        frame = int(self.stage.play_now(FOOT_DOWN))
        time.sleep(down_for)
        self.stage.play_now(FOOT_UP)
        return frame

    def strike(self, keys: bytes) -> None:
        """Types on its terminal."""
        assert self._terminal is not None
        os.write(self._terminal[0], keys)

    def key(self, *notes: int) -> None:
        """Notes in the key zone, 60 ms apart."""
        for note in notes:
            self.stage.play_now(bytes((0x90, note, 90)))
            time.sleep(0.03)
            self.stage.play_now(bytes((0x80, note, 0)))
            time.sleep(0.03)

    def player(self) -> int:
        """Process id of the player, the front's only child."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        assert len(children) == 1, children
        return int(children[0])

    def end(self, number: int = signal.SIGTERM) -> int:
        """Sends a signal and waits; returns the exit code."""
        self.process.send_signal(number)
        return self.process.wait(15)

    def close(self) -> None:
        """Ends what is still running."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
        for stream in (self.process.stdout, self.process.stderr):
            assert stream is not None
            stream.close()
        for descriptor in self._terminal or ():
            os.close(descriptor)


def without_repeats(events: Sequence[Any]) -> list[Any]:
    """Note events less the offs of what does not sound: offs are repeated after a lost cycle and the head.

    What is no note is left out.
    """
    sounding: set[tuple[int, int]] = set()
    kept = []
    for event in events:
        if event.data[0] & 0xE0 != 0x80:
            continue
        note = (event.data[0] & 0x0F, event.data[1])
        if event.data[0] & 0xF0 == 0x90 and event.data[2]:
            sounding.add(note)
        elif note not in sounding:
            continue
        else:
            sounding.discard(note)
        kept.append(event)
    return kept


class Message(NamedTuple):
    """A note message at a frame; what is none has a channel and a pitch of its own choice."""

    frame: int
    on: bool
    channel: int
    pitch: int


class Skips:
    """Where JACK skipped cycles, as the listener was told: the only places where a check may be excused.

    A span is widened: before it, as an overrun is told by a thread of its own, when it may be over; behind
    it, as what was lost is said again only after that, and a clock goes on from the next sixteenth.

    Args:
        spans: of frames, from and to.
        rate: frames a second.
    """

    def __init__(self, spans: Sequence[tuple[int, int]], rate: int) -> None:
        self._spans = [(start - rate // 10, end + rate // 5) for start, end in spans]
        self.number = len(spans)

    def excuse(self, frame: int, to: int | None = None) -> bool:
        """Whether something was skipped at a frame, or between two."""
        end = frame if to is None else to
        return any(start <= end and frame <= until for start, until in self._spans)

    def first_click(self, clicks: Sequence[int], beat: float, *, number: int = 4, by: int = 0) -> int:
        """The frame of the first of so many clicks, a beat apart within so many frames; all must be heard."""
        assert 0 < len(clicks) <= number, clicks
        for missed in range(number):
            first = clicks[0] - round(missed * beat)
            places = [round((frame - first) / beat) for frame in clicks]
            if any(
                abs(frame - first - beat * place) > by for frame, place in zip(clicks, places, strict=True)
            ):
                continue
            silent = set(range(number)) - set(places)
            if max(places) < number and all(self.excuse(first + round(beat * place)) for place in silent):
                return first
        raise AssertionError(f"{number} clicks were to come, {beat} frames apart: {clicks}")

    def agree(self, heard: Sequence[Message], expected: Sequence[Message], *, by: int) -> None:
        """Holds what was heard to what is expected: each message within so many frames, none beside.

        Only what fell into a skipped span may differ, and the off of a note that began in one; and at least
        half must have been heard as expected, or nothing has been shown.
        """
        left_over, missing, worst = unmatched(heard, expected, by=by)
        odd = [message for message in left_over if not self._excused(message, heard)]
        lost = [message for message in missing if not self._excused(message, expected)]
        shown = len(expected) - len(missing)
        print(
            f"{shown} of {len(expected)} messages within {worst} frames; {self.number} skipped cycles excuse "
            f"{len(missing)} missing and {len(left_over)} beside"
        )
        assert not odd, ("heard and not expected", odd, "expected", lost)
        assert not lost, ("expected and not heard", lost)
        assert 2 * shown >= len(expected), "the machine skips too much to show anything"

    def _excused(self, message: Message, among: Sequence[Message]) -> bool:
        if self.excuse(message.frame):
            return True
        begun = [other.frame for other in among if other.on and other[2:] == message[2:]]
        before = [frame for frame in begun if frame < message.frame]
        return not message.on and bool(before) and self.excuse(max(before))


def unmatched(
    heard: Sequence[Any], expected: Sequence[Any], *, by: int
) -> tuple[list[Message], list[Message], int]:
    """What was heard and not expected, expected and not heard, and by how many frames the others differ."""
    waiting: dict[tuple[Any, ...], list[int]] = {}
    for message in sorted(expected):
        waiting.setdefault(tuple(message[1:]), []).append(message[0])
    left_over, worst = [], 0
    for message in sorted(heard):
        frames = waiting.get(tuple(message[1:]), [])
        near = next((frame for frame in frames if abs(frame - message[0]) <= by), None)
        if near is None:
            left_over.append(Message(*message))
        else:
            frames.remove(near)
            worst = max(worst, abs(near - message[0]))
    missing = [Message(frame, *key) for key, frames in waiting.items() for frame in frames]
    return left_over, sorted(missing), worst


def messages(events: Sequence[Any]) -> list[Message]:
    """Recorded note events as messages, without repeats."""
    return [
        Message(
            event.frame,
            event.data[0] & 0xF0 == 0x90 and event.data[2] > 0,
            event.data[0] & 0x0F,
            event.data[1],
        )
        for event in without_repeats(events)
    ]


def placed(written: Sequence[Note], heard: Sequence[Message], rate: int, *, by: int) -> list[Message]:
    """Written notes at the frames at which most of what was heard puts them.

    The first that was heard need not be the first that was written, nor on its frame: a cycle may be skipped.
    """
    struck = [message for message in heard if message.on]
    origins = sorted(
        message.frame - note.seconds * rate
        for message in struck
        for note in written
        if note.on and note[2:] == message[2:]
    )
    assert origins, ("nothing of what is written was heard", heard)
    alike = [bisect_right(origins, origin + 2 * by) - place for place, origin in enumerate(origins)]
    most = max(range(len(origins)), key=alike.__getitem__)
    origin = origins[most : most + alike[most]][alike[most] // 2]
    return [Message(round(origin + note.seconds * rate), *note[1:]) for note in written]


def written_notes(path: Path) -> tuple[list[Note], float]:
    """Note messages of a MIDI file read by mido, and its `head`, in seconds from the first note-on."""
    file = mido.MidiFile(path)
    tempo = next(message.tempo for message in file.tracks[0] if message.type == "set_tempo")
    notes, head = [], 0.0
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            seconds = mido.tick2second(tick, file.ticks_per_beat, tempo)
            if message.type == "marker" and message.text == "head":
                head = seconds
            elif message.type in {"note_on", "note_off"} and track.name in PARTS:
                on = message.type == "note_on" and message.velocity > 0
                notes.append(Note(seconds, on, PARTS[track.name], message.note))
    notes.sort()
    start = notes[0].seconds
    return [note._replace(seconds=note.seconds - start) for note in notes], head - start


def write_file(folder: Path, environ: dict[str, str], intro: str, *options: str) -> Path:
    """What `introit write` makes of an intro."""
    path = folder / "written.mid"
    arguments = ["write", intro, *options, "-o", str(path)]
    subprocess.run([*command(), *arguments], check=True, capture_output=True, env=environ, timeout=60)
    return path
