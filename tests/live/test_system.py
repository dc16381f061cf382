"""What the system is asked for. Asked in a process of its own: it would change this one's scheduling."""

from __future__ import annotations

import itertools
import subprocess
import sys

import pytest

from introit.live.system import Granted, limits

ASK = """
import sys
from introit.live.system import prepare
granted = prepare()
print(granted.real_time, granted.text)
print(sys.getswitchinterval() < 0.001)
if sys.platform == "linux":
    import os
    print(granted.real_time == (os.sched_getscheduler(0) & 0xF == os.SCHED_FIFO))
"""


HURRY = """
import os, sys, threading, time
from introit.live.system import hurry
threading.Thread(target=time.sleep, args=(9,), daemon=True).start()
def policies():
    return {os.sched_getscheduler(int(name)) & 0xF for name in os.listdir("/proc/self/task")}
usual, interval = policies(), sys.getswitchinterval()
try:
    os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(1))
    os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
    granted = {os.SCHED_FIFO}
except OSError:
    granted = usual
with hurry():
    print(policies() == granted, sys.getswitchinterval() < 0.001)
print(policies() == usual, sys.getswitchinterval() == interval)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="real-time schedulers are asked for on Linux alone")
def test_all_threads_hurry_and_then_go_on_as_before() -> None:
    done = subprocess.run([sys.executable, "-c", HURRY], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["True"] * 4


def test_whatever_is_granted_is_said_and_nothing_fails() -> None:
    done = subprocess.run([sys.executable, "-c", ASK], capture_output=True, text=True, check=True)
    assert "False" not in done.stdout.splitlines()[1:]
    assert done.stderr == ""


def test_the_line_names_what_is_granted_and_what_is_not() -> None:
    text = Granted(real_time=True, timer_slack=True, memory_locked=False).text
    assert text == (
        "granted: real-time scheduling, exact timers; not granted: locked memory, cores kept awake"
    )
    assert Granted(real_time=False, timer_slack=False, memory_locked=False).text.startswith(
        "not granted: real"
    )


def test_the_line_is_read_back() -> None:
    for given in itertools.product((True, False), repeat=4):
        assert Granted.from_text(Granted(*given).text) == Granted(*given)
    assert Granted.from_text("") == Granted(False, False, False, False)


def test_limits_are_what_the_shell_says() -> None:
    found = limits()
    if sys.platform != "linux":
        assert found is None
        return
    assert found is not None
    # bash's own reading of the same limits; -l counts in kibibytes.
    told = subprocess.run(["bash", "-c", "ulimit -r; ulimit -l"], capture_output=True, text=True, check=True)
    priority, memory = told.stdout.split()
    assert str(found.priority) == priority
    assert ("unlimited" if found.memory is None else str(found.memory // 1024)) == memory
