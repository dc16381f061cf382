"""Keys through a real pseudo-terminal: the mode is taken, kept and given back, and a key plays an intro."""

from __future__ import annotations

import os
import re
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from introit.cli.terminal import keys_of

termios = pytest.importorskip("termios")

SECONDS = 20.0
"""Far more than anything here takes."""

Start = Callable[..., Any]
"""The fixture `start`: arguments of the interpreter -> a pseudo-terminal with that process on it."""

TAKER = """
import os, sys
from introit.cli.terminal import keys_of
if sys.argv[1:] == ["background"]:
    if os.fork():
        os.wait()
        os._exit(0)
    os.setpgrp()
keys = keys_of(sys.stdin)
if keys is None:
    print("no keys", flush=True)
    os._exit(0)
try:
    keys.open()
    print("open", flush=True)
    while True:
        struck = keys.read(None)
        print("struck", struck, flush=True)
        if struck == b"x":
            raise ValueError("out of the blue")
finally:
    keys.close()
    print("closed", flush=True)
"""

RIG = """\
name: Nowhere
ports:
  main: {system: memory, to: any}
parts:
  comp: {port: main, channel: 2, program: 5}
keys: {press: [w, page down]}
"""


def test_a_terminal_is_taken_key_by_key_and_given_back_when_something_is_raised(start: Start) -> None:
    stand = start("-c", TAKER)
    stand.until("open")
    assert stand.mode() == {
        "by lines": False, "echo": False, "stops output": False, "signals": True, "line ends": True
    }  # fmt: skip
    stand.strike(b"k")  # no line end follows, and it is not echoed
    assert stand.until("struck") == "\r\nstruck"
    stand.strike(b"\x1c\x13")  # Ctrl-backslash and Ctrl-S are keys
    stand.until(r"struck b'\x1c\x13'")
    stand.strike(b"x")
    stand.until("closed")
    assert stand.process.wait(SECONDS) == 1
    assert stand.restored


@pytest.mark.parametrize("number", [signal.SIGQUIT, signal.SIGINT])
def test_a_signal_ends_it_with_the_terminal_as_it_was(start: Start, number: signal.Signals) -> None:
    stand = start("-c", TAKER)
    stand.until("open")
    assert not stand.restored
    stand.process.send_signal(number)
    assert stand.process.wait(SECONDS) == -number
    assert stand.restored


def test_a_signal_that_does_not_interrupt_the_wait_ends_it_too(start: Start) -> None:
    # The kernel gives it to the other thread, so the wait goes on as if it had come just before it began.
    aside = (
        "import signal, threading\n"
        "threading.Thread(target=threading.Event().wait, daemon=True).start()\n"
        "signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGQUIT])\n"
    )
    stand = start("-c", aside + TAKER)
    stand.until("open")
    stand.process.send_signal(signal.SIGQUIT)
    assert stand.process.wait(SECONDS) == -signal.SIGQUIT
    assert stand.restored


def test_after_a_stop_that_nobody_can_catch_keys_are_taken_again(start: Start) -> None:
    stand = start("-c", TAKER)
    stand.until("open")
    stand.process.send_signal(signal.SIGSTOP)
    os.waitid(os.P_PID, stand.process.pid, os.WSTOPPED)
    termios.tcsetattr(stand.slave, termios.TCSANOW, stand.before)  # what a shell does meanwhile
    assert stand.restored
    stand.process.send_signal(signal.SIGCONT)
    stand.strike(b"c")  # without a line end it arrives only key by key
    stand.until("struck b'c'")
    assert not stand.mode()["by lines"]


def test_a_job_in_the_background_leaves_the_terminal_alone(start: Start) -> None:
    stand = start("-c", TAKER, "background")
    stand.until("no keys")
    assert stand.process.wait(SECONDS) == 0
    assert stand.restored


def test_what_is_no_terminal_has_no_keys(tmp_path: Path) -> None:
    with (tmp_path / "file").open("w+") as file:
        assert keys_of(file) is None
    assert keys_of(file) is None  # closed


SET = """\
title: Two
tunes:
  - {title: First, key: Ab, tempo: 280, feel: medium-swing, first_chord: I}
  - {title: Second, key: C, tempo: 200, feel: medium-swing, first_chord: I}
"""


def test_an_evening_by_keys(start: Start, tmp_path: Path) -> None:
    (tmp_path / "rig.yaml").write_text(RIG)
    rig = str(tmp_path / "rig.yaml")
    stand = start("-m", "introit", "run", "medium swing, Ab, 280", "--rig", rig)
    assert "w, page down: press; h: hold; n: next; ?: help; q: end" in stand.until("q: end\r\n")
    stand.until("press: start")  # there is no foot-switch in the rig: the keys have one of their own
    stand.strike(b"\x1b[6~")
    assert "counting" not in stand.until("playing (hold: silence)")
    stand.strike(b"?")
    stand.until("(what is left blank does nothing)")
    table = stand.until("q: end\r\n")
    assert re.search(r"^faster +\+, =, up\r$", table, re.MULTILINE)
    assert re.search(r"^mute +C comp\r$", table, re.MULTILINE)
    assert not re.search(r"^(tune|back|first note|level) ", table, re.MULTILINE)  # one tune, no cue, no pedal
    stand.until("in the tune (double press: same tune; hold: next tune)")
    stand.strike(b"h")
    stand.until("ready: ")
    stand.strike(b"q")
    stand.until("all notes off (q or Ctrl-C)")
    assert stand.process.wait(SECONDS) == 0
    assert stand.restored


def test_orders_by_keys(start: Start, tmp_path: Path) -> None:
    (tmp_path / "rig.yaml").write_text(RIG)
    (tmp_path / "set.yaml").write_text(SET)
    stand = start("-m", "introit", "run", str(tmp_path / "set.yaml"), "--rig", str(tmp_path / "rig.yaml"))
    stand.until("ready: First")
    stand.strike(b"n")  # while ready: it skips a tune
    stand.until("ready: Second, C, 200")
    stand.strike(b"+")
    stand.until("ready: Second, C, 202")
    stand.strike(b"b")
    stand.until("ready: First")
    stand.strike(b"2")
    stand.until("ready: Second")
    stand.strike(b"BC")  # there is no bass in the rig
    assert "bass muted" not in stand.until("comp muted")
    stand.strike(b"s")
    stand.until("sound check (press: end the check)")
    stand.strike(b"x")
    stand.until("ready: Second")
    stand.strike(b"q")
    assert stand.process.wait(SECONDS) == 0
