"""What keeps libjack's ways of ending threads away from the interpreter."""

from __future__ import annotations

import subprocess
import sys

import pytest

CANCELLED = """
import ctypes, threading, time
from introit.live.ports.libjack import outlast_cancelling

def callback():
    if {shielded}:
        outlast_cancelling()
    libc = ctypes.CDLL(None)
    libc.pthread_self.restype = ctypes.c_void_p
    libc.pthread_cancel.argtypes = [ctypes.c_void_p]
    libc.pthread_cancel(libc.pthread_self())
    time.sleep(0.01)  # a cancellation point, by POSIX.1-2017, System Interfaces, 2.9.5
    print("came through", flush=True)

thread = threading.Thread(target=callback, daemon=True)
thread.start()
thread.join(5.0)
"""


def came_through(*, shielded: bool) -> bool:
    done = subprocess.run(
        [sys.executable, "-c", CANCELLED.format(shielded=shielded)],
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    return "came through" in done.stdout


@pytest.mark.skipif(sys.platform != "linux", reason="the figures of pthread.h are glibc's")
def test_a_callback_outlasts_the_cancelling_of_its_thread() -> None:
    assert came_through(shielded=True)
    assert not came_through(shielded=False)
