"""What keeps libjack's ways of ending threads away from the interpreter."""

from __future__ import annotations

import subprocess
import sys
from types import SimpleNamespace
from typing import Any

import pytest

from introit.live.ports.libjack import each_cycle

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


def test_a_cycle_asks_libjack_itself_where_the_package_shows_it() -> None:
    jack: Any = pytest.importorskip("jack", exc_type=ImportError)
    client, port = SimpleNamespace(_ptr="client"), SimpleNamespace(_ptr="port")
    each = each_cycle(jack, client)
    assert each.clear is jack._lib.jack_midi_clear_buffer  # another release may call it otherwise: see there
    assert (each.handle(client), each.handle(port)) == ("client", "port")


@pytest.mark.parametrize("package", [SimpleNamespace(), SimpleNamespace(_lib=SimpleNamespace())])
def test_and_asks_the_package_where_it_does_not(package: Any) -> None:
    cleared: list[str] = []
    client = SimpleNamespace(last_frame_time=4_711)
    port = SimpleNamespace(clear_buffer=lambda: cleared.append("port"))
    each = each_cycle(package, client)
    assert each.frame(each.handle(client)) == 4_711
    buffer = each.buffer(each.handle(port), 1024)
    each.clear(buffer)
    assert cleared == ["port"]
    assert each.count(buffer), "whoever cannot tell how many there are has to look"
