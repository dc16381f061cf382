"""What a dead player left behind is told in one line that helps."""

from __future__ import annotations

import subprocess
import sys

import pytest

from introit.live.last_words import told


@pytest.mark.parametrize(
    ("code", "lines", "says"),
    [
        (-9, [], "the player was ended by signal 9 (SIGKILL)"),
        (-9, ["ALSA lib: chatter"], "the player was ended by signal 9 (SIGKILL)"),
        (-11, [], "the player was ended by signal 11 (SIGSEGV, a fault in a driver or a library)"),
        (
            -6,
            [
                "RtMidi: out of ports",
                "",
                "Fatal Python error: Aborted",
                "",
                "Current thread 0x0 (most recent)",
            ],
            "the player was ended by signal 6 (SIGABRT, a driver or a library gave up,"
            " which last said: RtMidi: out of ports)",
        ),
        (-63, ["x"], "the player was ended by signal 63"),
        (
            1,
            ["Traceback:", "OSError: no such device", " "],
            "OSError: no such device",
        ),
        (3, [], "the player ended with code 3 (it said nothing)"),
        (1, ["x" * 1000], f"the player ended with code 1 ({'x' * 160}..)"),
        (None, [], "the player ended with code None (it said nothing)"),
    ],
)
def test_a_death_in_one_line(code: int | None, lines: list[str], says: str) -> None:
    assert says in told(code, lines)


@pytest.mark.skipif(sys.platform == "win32", reason="no signals there")
def test_a_real_fault_says_in_which_call_and_what_was_printed_before() -> None:
    """Against Python's own report of a fault (the standard library's faulthandler)."""
    code = (
        "import ctypes, faulthandler, os, threading, time\n"
        "faulthandler.enable()\n"
        "threading.Thread(target=time.sleep, args=(9,), daemon=True).start()\n"
        "os.write(2, b'driver: cannot lock memory\\n')\n"
        "def send(): ctypes.string_at(0)\n"
        "send()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    says = told(done.returncode, done.stderr.splitlines())
    assert "signal 11 (SIGSEGV, a fault in a driver or a library, in string_at, __init__.py line" in says
    assert says.endswith("which last said: driver: cannot lock memory)")
