"""FluidSynth itself, playing into a JACK server of our own: the contract, and what a microphone hears.

Onsets are found in the recorded sound and compared with those of the same intro's MIDI file. A wood block
(General MIDI program 116) is struck for all parts there: it has an attack that can be measured, and no note
of it sounds into the next. What must be silent afterwards is tried with an organ, which sounds for ever.
"""

from __future__ import annotations

import ctypes
import os
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from introit.errors import PortError
from introit.fluid.library import load
from introit.fluid.soundfonts import find_soundfont
from introit.live.clock import SystemClock
from introit.live.inbox import Inbox
from introit.live.ports.fluidsynth import STALL_NS, port_on
from introit.live.ports.inside import RATE, Synth
from introit.testing import PortBench, check_port
from introit.units import NS_PER_MS, NS_PER_SECOND

RIG = """\
name: Inside
ports:
  synth: {{system: fluidsynth, audio: jack, soundfont: {soundfont}}}
  floor: {{system: jack, from: "stage:out"}}
parts:
  melody: {{port: synth, channel: 1, program: {program}}}
  comp: {{port: synth, channel: 2, program: {program}}}
  bass: {{port: synth, channel: 3, program: {program}}}
  pedal: {{port: synth, channel: 4, program: {program}}}
foot_switch: {{port: floor, message: control, number: 64, action: momentary}}
"""
WOOD_BLOCK, ORGAN = 116, 20
APART = 0.05
"""Seconds: a note that follows another more closely is not told apart from it in the sound."""
NEAR = 0.015
BLOCK = 64 / RATE
"""FluidSynth begins a note at the nearest block of 64 frames: half of it is the most it can be off."""
_EVENT = ctypes.CFUNCTYPE(None, ctypes.c_uint, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p)
_NOTE_ON, _NOTE_OFF, _CONTROL = 1, 2, 12
"""`enum fluid_seq_event_type` of FluidSynth 2."""


@pytest.fixture(scope="module")
def soundfont() -> Path:
    """The small one that the tests' environment brings: the same everywhere."""
    try:
        load()
    except PortError as error:
        pytest.skip(str(error))
    return find_soundfont(folders=[])


class Bench:
    """A port on the real library, whose sequencer plays into a client of ours instead of the synth."""

    def __init__(self, soundfont: Path) -> None:
        self.clock = SystemClock()
        self.inbox = Inbox()
        self.synth = Synth(soundfont, gain=0.2, drivers=["jack"])
        self.received: list[bytes] = []
        self._offs: list[bytes] = []
        self._send, self.synth.send = self.synth.send, self._note_off_sent  # type: ignore[method-assign]
        self._callback = _EVENT(self._take)
        library = self.library = self.synth._library
        library.fluid_sequencer_register_client.restype = ctypes.c_short
        library.fluid_sequencer_register_client.argtypes = [
            ctypes.c_void_p,
            ctypes.c_char_p,
            _EVENT,
            ctypes.c_void_p,
        ]
        for name in ("type", "channel", "key", "velocity", "control", "value"):
            getattr(library, f"fluid_event_get_{name}").argtypes = [ctypes.c_void_p]
        sequencer = self.synth._sequencer
        self.synth._dest = library.fluid_sequencer_register_client(sequencer, b"probe", self._callback, None)
        self.port = port_on(0, "main", self.synth, soundfont=soundfont, now=self.clock.now, inbox=self.inbox)

    def _note_off_sent(self, number: int, tick: int, data: bytes) -> bool:
        """The library makes one event of both kinds of note-off, and keeps no release velocity."""
        if data[0] & 0xF0 == 0x80 or (data[0] & 0xF0 == 0x90 and not data[2]):
            self._offs.append(data)
        return self._send(number, tick, data)

    def _take(self, _time: int, event: Any, _sequencer: Any, _data: Any) -> None:
        get = {name: getattr(self.library, f"fluid_event_get_{name}") for name in ("type", "channel", "key")}
        kind, channel = get["type"](event), get["channel"](event)
        if kind == _NOTE_ON:
            said = (0x90 | channel, get["key"](event), self.library.fluid_event_get_velocity(event) & 0x7F)
        elif kind == _NOTE_OFF:
            key = get["key"](event)
            data = next(one for one in self._offs if one[0] & 0x0F == channel and one[1] == key)
            self._offs.remove(data)
            said = tuple(data)
        elif kind == _CONTROL:
            control, value = self.library.fluid_event_get_control, self.library.fluid_event_get_value
            said = (0xB0 | channel, control(event) & 0x7F, value(event))
        else:
            return
        self.received.append(bytes(said))

    def wait(self, ns: int) -> None:
        """As the loop does: it looks at its ports again and again."""
        end = time.monotonic_ns() + ns
        while (left := end - time.monotonic_ns()) > 0:
            time.sleep(min(left, 20 * NS_PER_MS) / NS_PER_SECOND)
            if self.port._there and not self.port._closed:
                self.port._read()

    def vanish(self) -> None:
        """As when the server or the card is gone: nobody asks for sound any more."""
        self.library.delete_fluid_audio_driver(self.synth._audio)
        self.synth._audio = None
        for _ in range(13):
            self.wait(STALL_NS // 10)
            self.port.sent()


def test_the_port_keeps_the_contract_on_the_library_itself(soundfont: Path, jack_server: Any) -> None:
    inboxes = []

    def fresh() -> PortBench:
        made = Bench(soundfont)
        inboxes.append(made.inbox)
        return PortBench(
            port=made.port,
            now=made.clock.now,
            wait=made.wait,
            received=lambda: list(made.received),
            vanish=made.vanish,
            tolerance=10 * NS_PER_MS,  # a machine that does other things as well
        )

    check_port(fresh)
    for inbox in inboxes:
        inbox.close()


@pytest.fixture
def play(
    soundfont: Path,
    e2e_helper: Callable[[str], Any],
    kit: Any,
    make_recorder: Callable[[str], Any],
    jack_server: Any,
    tmp_path: Path,
) -> Iterator[Callable[..., Any]]:
    """Plays the intro by the installed command, and listens on in the tune: the sound and its skips."""
    made: list[Any] = []

    def play(program: int, *, leave_after: float | None = None) -> Any:
        microphone = e2e_helper("microphone").Microphone(
            "introit synth:", tmp_path / "sound.npz", jack_server.environ
        )
        made.append(microphone)
        evening = kit.Evening(
            tmp_path,
            stage=make_recorder("stage"),
            listen=None,
            environ=jack_server.environ,
            rig=RIG.format(soundfont=soundfont, program=program),
        )
        made.append(evening)
        said = evening.wait_for("synth: plays into FluidSynth with TimGM6mb.sf2, through jack (latency ")
        late = float(said.rpartition("latency ")[2].removesuffix(" ms)"))
        # What a JACK client makes is heard two periods later; more, where cycles were gathered meanwhile.
        assert 128 / RATE * 1000 * 1.9 <= late <= 50, said
        evening.wait_for("ready: Copper Kettle Lane")
        evening.press()
        if leave_after is None:
            evening.wait_for("in the tune")
            time.sleep(2.0)
        else:
            evening.wait_for("playing")
            time.sleep(leave_after)
            assert evening.end() == 0
            time.sleep(0.2)
        return microphone.finish(), kit.Skips(microphone.skipped, RATE)

    yield play
    for one in made:
        one.close()


@pytest.fixture
def written(kit: Any, tmp_path: Path) -> tuple[list[float], float]:
    """Seconds of the intro's onsets, and of the head, from the first onset."""
    path = kit.write_file(tmp_path, dict(os.environ), *kit.FIRST, "--key", "Bb")
    notes, head = kit.written_notes(path)
    return sorted({note.seconds for note in notes if note.on}), head


def test_notes_are_heard_when_they_are_due(
    play: Callable[..., Any], written: tuple[list[float], float]
) -> None:
    sound, skips = play(WOOD_BLOCK)
    onsets, _ = written
    first = int(np.argmax(np.abs(sound) > 1e-3))
    off = []
    for before, at in zip([-1.0, *onsets], onsets, strict=False):
        if at - before < APART or skips.excuse(first + int(at * RATE)):
            continue
        around = np.abs(sound[first + int((at - NEAR) * RATE) : first + int((at + NEAR) * RATE)])
        quiet = around[: int(0.6 * NEAR * RATE)].max()
        struck = around > max(2 * quiet, 2e-3)
        assert struck.any(), f"nothing is struck at {at:.3f} s"
        off.append(1000 * (np.argmax(struck) / RATE - NEAR))
    off = list(np.array(off) - np.median(off))
    worst = max(map(abs, off))
    figures = (
        f"{len(off)} onsets of {len(onsets)}: off by {np.percentile(np.abs(off), 95):.2f} ms (95 %),"
        f" {worst:.2f} ms at most; {skips.number} skipped cycles"
    )
    print(figures)
    assert len(off) >= 30, figures
    # Half a block, and as much again until a wood block is loud; 3 ms is far below what is heard as late.
    assert worst <= 3.0, figures
    assert float(np.abs(sound).max()) < 0.5, "at the usual gain nothing is near full blast"


def test_an_organ_is_silent_once_the_head_has_begun(
    play: Callable[..., Any], written: tuple[list[float], float]
) -> None:
    sound, _ = play(ORGAN)
    first = int(np.argmax(np.abs(sound) > 1e-3))
    head = first + int(written[1] * RATE)
    loud = float(np.abs(sound[head - RATE // 2 : head]).max())
    after = np.abs(sound[head + RATE * 3 // 4 :])
    assert len(after) > RATE // 2, "it was listened to for long enough"
    figures = f"before the head {loud:.3f}, 0.75 s after it {float(after.max()):.6f}"
    print(figures)
    assert loud > 0.01, figures
    assert float(after.max()) < loud / 1000, figures  # by 60 dB, no source


def test_told_to_leave_it_is_silent_at_once(play: Callable[..., Any]) -> None:
    sound, _ = play(ORGAN, leave_after=3.0)
    heard = np.flatnonzero(np.abs(sound) > 1e-3)
    assert len(heard), "it had begun"
    seconds = (heard[-1] - heard[0]) / RATE
    assert 2.0 < seconds < 4.0, f"heard for {seconds:.2f} s"


def test_with_no_synth_connected_the_one_inside_is_heard_at_once(
    soundfont: Path, e2e_helper: Callable[[str], Any], kit: Any, jack_server: Any, tmp_path: Path
) -> None:
    """A JACK server without any MIDI port, and a rig that names nothing: `introit play INTRO`, no more."""
    microphone = e2e_helper("microphone").Microphone(
        "introit main:", tmp_path / "sound.npz", jack_server.environ
    )
    command = [*kit.command(), "play", "waltz-riff", "--tempo", "200", "--seed", "1"]
    done = subprocess.run(
        command, capture_output=True, text=True, env=jack_server.environ, timeout=60, check=False
    )
    sound = microphone.finish()
    assert done.returncode == 0, done.stderr
    assert "no synth is connected: the one inside plays" in done.stdout
    assert "main: plays into FluidSynth with " in done.stdout
    seconds = np.count_nonzero(np.abs(sound) > 1e-3) / RATE
    assert seconds > 1, "it was heard"
    assert float(np.abs(sound).max()) < 0.5, "and gently"
