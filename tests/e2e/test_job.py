"""Ctrl-Z, `fg` and `bg` in a real shell on a pseudo-terminal, with a receiver on real JACK."""

from __future__ import annotations

import contextlib
import os
import select
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

termios = pytest.importorskip("termios")

Owed = Callable[[Any], dict[Any, int]]
SECONDS = 20.0
"""Far more than anything here takes."""
SHELLS = {"bash": ("bash", "--norc", "--noprofile", "-i"), "sh": ("sh", "-i")}
"""One that sets the terminal its own way after each job, and one (Debian's) that leaves it as it is."""
CTRL_Z = b"\x1a"
IN_SHELL = """
import fcntl, os, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
os.execvp(sys.argv[1], sys.argv[1:])
"""


class Terminal:
    """A shell with job control on a pseudo-terminal."""

    def __init__(self, environ: dict[str, str], shell: str) -> None:
        self.ours, theirs = os.openpty()
        self._process = subprocess.Popen(
            [sys.executable, "-c", IN_SHELL, *SHELLS[shell]],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env={**environ, "PS1": "$ ", "TERM": "dumb"},
            start_new_session=True,
        )
        os.close(theirs)
        self._read = b""
        self._at = 0
        self._ending = False
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._ending:
            if not select.select([self.ours], [], [], 0.05)[0]:
                continue
            try:
                data = os.read(self.ours, 4096)
            except OSError:
                return
            if not data:
                return
            self._read += data

    def type(self, keys: bytes) -> None:
        os.write(self.ours, keys)

    def wait_for(self, words: str) -> None:
        """Waits until these words come, after those that were waited for last."""
        limit = time.monotonic() + SECONDS
        while (found := self._read.find(words.encode(), self._at)) < 0:
            assert time.monotonic() < limit, (words, self._read[self._at :].decode(errors="replace"))
            time.sleep(0.02)
        self._at = found + len(words)

    @property
    def job(self) -> int:
        """Process id of the shell's child."""
        (child,) = children(self._process.pid)
        return child

    def hang_up(self) -> None:
        """The terminal goes, as when an ssh connection breaks off."""
        self._ending = True
        self._thread.join()  # a read that goes on would keep it open
        os.close(self.ours)
        self.ours = -1

    def close(self) -> None:
        if self.ours >= 0:
            self.hang_up()
        for pid in [*children(self._process.pid), self._process.pid]:
            for number in (signal.SIGKILL, signal.SIGCONT):
                try:
                    os.kill(pid, number)
                except ProcessLookupError:
                    break
        self._process.wait()


def children(pid: int) -> list[int]:
    try:
        return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except OSError:
        return []


def state(pid: int) -> str:
    """`T` for a stopped process and `Z` for one that has ended, as proc(5) has it; empty for none."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return ""


def wait_gone(pid: int) -> None:
    limit = time.monotonic() + SECONDS
    while state(pid) not in ("", "Z"):
        assert time.monotonic() < limit, f"process {pid} is still there"
        time.sleep(0.01)


class Job:
    """`introit run` in the foreground of a shell, with its set's first tune ready."""

    def __init__(
        self, kit: Any, folder: Path, environ: dict[str, str], stage: Any, listen: Any, *, shell: str
    ) -> None:
        (folder / "rig.yaml").write_text(kit.RIG)
        (folder / "set.yaml").write_text(kit.SET)
        self.stage, self.listen, self._kit = stage, listen, kit
        self.terminal = Terminal(environ, shell)
        command = f"{sys.executable} -m introit run {folder / 'set.yaml'} --rig {folder / 'rig.yaml'}"
        self.terminal.type(f"{command}\n".encode())
        self.wait_ready()
        self.front = self.terminal.job
        self.player = self.players()[0]

    def players(self) -> list[int]:
        return children(self.front)

    def wait_ready(self) -> None:
        self.terminal.wait_for("ready: Copper Kettle Lane")

    def press(self) -> None:
        self.stage.play_now(self._kit.FOOT_DOWN)
        time.sleep(0.05)
        self.stage.play_now(self._kit.FOOT_UP)

    def play_into_a_chord(self, owed: Owed) -> None:
        """Plays until something sounds that could be left behind."""
        before = len(self.ons())
        self.press()
        self.listen.wait_until(lambda events: len(self.ons()) > before + 5 and owed(events))

    def ons(self) -> list[Any]:
        return [event for event in self.listen.events() if event.data[0] & 0xF0 == 0x90 and event.data[2]]


@pytest.fixture(params=list(SHELLS))
def job(
    request: pytest.FixtureRequest,
    kit: Any,
    jack_server: Any,
    make_recorder: Callable[[str], Any],
    tmp_path: Path,
) -> Iterator[Job]:
    stage, listen = make_recorder("stage"), make_recorder("listen")
    made = Job(kit, tmp_path, jack_server.environ, stage, listen, shell=request.param)
    yield made
    # One in the background outlives a shell that says nothing.
    for number in (signal.SIGTERM, signal.SIGCONT):
        with contextlib.suppress(ProcessLookupError):
            os.kill(made.front, number)
    wait_gone(made.front)
    made.terminal.close()


def test_ctrl_z_is_a_pause_and_fg_goes_on_with_the_tune_and_the_mutes(job: Job, owed: Owed) -> None:
    terminal = job.terminal
    terminal.type(b"C")
    terminal.wait_for("comp muted")
    job.play_into_a_chord(owed)
    frame = job.listen.frame()
    terminal.type(CTRL_Z)
    terminal.wait_for("paused, every note is off")
    terminal.wait_for("Stopped")
    assert state(job.front) == "T"
    assert not Path(f"/proc/{job.player}").exists(), "whoever stands still would be thrown out by JACK"
    assert owed(job.listen.events()) == {}
    last = max(event.frame for event in job.listen.events() if event.data[0] & 0xE0 == 0x80)
    print(f"Ctrl-Z to silence: {(last - frame) * 1000 / job.listen.rate:.1f} ms")
    struck = len(job.ons())
    job.press()  # a stopped job hears nothing
    time.sleep(0.3)
    assert len(job.ons()) == struck
    terminal.type(b"stty -a\n")
    terminal.wait_for(" icanon ")  # lines again, and echo: as a program before the shell left it
    terminal.wait_for(" echo ")

    terminal.type(b"fg\n")
    terminal.wait_for("going on")
    terminal.wait_for("plays into listen:in")
    job.wait_ready()
    time.sleep(0.3)  # keys that are held down are one; the other players keep their mutes
    job.play_into_a_chord(owed)
    assert {event.data[0] & 15 for event in job.ons()[struck:]} <= {0, 2, 3}, "the comp was muted"
    (player,) = job.players()
    assert player != job.player
    terminal.type(b"q")
    terminal.wait_for("all notes off")
    wait_gone(job.front)
    wait_gone(player)
    assert owed(job.listen.events()) == {}


def test_twice_over_and_in_the_background_it_plays_on_and_gets_its_keys_back(job: Job, owed: Owed) -> None:
    terminal = job.terminal
    terminal.type(CTRL_Z)
    terminal.wait_for("Stopped")
    terminal.type(b"bg\n")
    job.wait_ready()
    assert state(job.front) != "T"
    job.play_into_a_chord(owed)  # by foot: the keys are the shell's
    terminal.type(b"echo typed for the shell\n")
    terminal.wait_for("\ntyped for the shell")
    terminal.type(b"fg\n")
    time.sleep(0.6)
    terminal.type(b"?")
    terminal.wait_for("keys: ")
    terminal.type(CTRL_Z)
    terminal.wait_for("Stopped")
    terminal.type(b"fg\n")
    job.wait_ready()
    terminal.type(b"q")
    terminal.wait_for("all notes off")
    wait_gone(job.front)


def test_a_terminal_that_hangs_up_ends_the_evening_with_every_note_off(job: Job, owed: Owed) -> None:
    """As a closed ssh does: the shell and its job get SIGHUP (POSIX, general terminal interface)."""
    job.play_into_a_chord(owed)
    job.terminal.hang_up()
    wait_gone(job.player)
    wait_gone(job.front)
    time.sleep(0.1)
    assert owed(job.listen.events()) == {}


def test_a_terminal_that_hangs_up_on_a_stopped_job_leaves_nothing_behind(job: Job, owed: Owed) -> None:
    job.play_into_a_chord(owed)
    job.terminal.type(CTRL_Z)
    job.terminal.wait_for("Stopped")
    job.terminal.hang_up()
    wait_gone(job.front)
    assert owed(job.listen.events()) == {}


def test_a_front_that_is_killed_while_it_is_stopped_leaves_nothing_behind(job: Job, owed: Owed) -> None:
    job.play_into_a_chord(owed)
    job.terminal.type(CTRL_Z)
    job.terminal.wait_for("Stopped")
    os.kill(job.front, signal.SIGKILL)
    wait_gone(job.front)
    assert owed(job.listen.events()) == {}
