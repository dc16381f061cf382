"""Over real JACK: a receiver that stands still, and a loop that is late. Neither leaves a note hanging."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

Owed = Callable[[Any], dict[Any, int]]
STALLED = """
import sys, jack
client = jack.Client("stalled", no_start_server=True)
client.midi_inports.register("in")
client.set_process_callback(lambda frames: None)
client.activate()
print("there", flush=True)
sys.stdin.read()
"""
"""A receiver in a process of its own, which can be stopped."""


@pytest.fixture
def stalled(jack_server: Any) -> Iterator[subprocess.Popen[bytes]]:
    pipe = subprocess.PIPE
    with subprocess.Popen(
        [sys.executable, "-c", STALLED], env=jack_server.environ, stdin=pipe, stdout=pipe
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"there\n"
        yield process
        process.send_signal(signal.SIGCONT)
        process.kill()
    jack_server.killed_a_client()


def ons(evening: Any) -> list[Any]:
    return [event for event in evening.notes() if event.data[0] & 0xF0 == 0x90 and event.data[2]]


def test_a_receiver_that_stands_still_keeps_no_note_on_the_others(
    stalled: Any, kit: Any, make_evening: Callable[..., Any], owed: Owed
) -> None:
    """JACK waits for a client that stands still, and skips cycles until it throws the client out."""
    rig = kit.RIG.replace("parts:\n", '  other: {system: jack, to: "stalled:in"}\nparts:\n').replace(
        "bass: {port: synth", "bass: {port: other"
    )
    evening = make_evening(rig=rig)
    evening.wait_for("ready: Copper Kettle Lane")
    evening.press()
    evening.listen.wait_until(lambda events: len(ons(evening)) > 6 and owed(events))
    stalled.send_signal(signal.SIGSTOP)
    evening.wait_for("in the tune")
    time.sleep(0.5)
    assert owed(evening.listen.events()) == {}
    assert evening.end() == 0
    assert owed(evening.listen.events()) == {}


def test_a_player_that_gets_no_time_for_most_of_a_second_leaves_nothing_sounding(
    kit: Any, make_evening: Callable[..., Any], owed: Owed
) -> None:
    """So late is the loop; or JACK has thrown the client out meanwhile, and it comes back."""
    evening = make_evening()
    evening.wait_for("ready: Copper Kettle Lane")
    evening.press()
    evening.listen.wait_until(lambda events: len(ons(evening)) > 6 and owed(events))
    player = evening.player()
    os.kill(player, signal.SIGSTOP)
    time.sleep(0.7)
    os.kill(player, signal.SIGCONT)
    evening.wait_for("in the tune")
    assert evening.player() == player, "it was late, not dead"
    limit = time.monotonic() + 3
    while owed(evening.listen.events()) and time.monotonic() < limit:
        time.sleep(0.05)
    assert owed(evening.listen.events()) == {}
    assert evening.end() == 0
