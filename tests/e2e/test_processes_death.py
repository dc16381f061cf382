"""Every death of a process in mid-chord, on real JACK: nothing may be left sounding at the receiver."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from introit.errors import PortError
from introit.live.events import Played, Request, Shown, Wanted
from introit.live.keeper import STALE_SECONDS, Keeper, PlayerLeft
from introit.live.messages import control, note_on
from introit.live.setup import KeyZone, PortSetup, Route, Setup
from introit.testing import SketchFront

DOWN, UP = control(0, 64, 127), control(0, 64, 0)
SETUP = Setup(
    ports=(PortSetup("synth", "jack", to="probe:in", source="foot:out"),),
    routes=tuple(Route(part, 0, part) for part in range(3)),
    tunes=2,
)


class Stage:
    """A keeper with a player, a foot, and a synth that records."""

    def __init__(self, synth: Any, foot: Any, setup: Setup = SETUP) -> None:
        self.synth = synth
        self.foot = foot
        self.keeper = Keeper(setup)
        self.told: list[Any] = []
        self._answer = SketchFront(bars=8)
        self.keeper.start()

    def serve(self, seconds: float, *, until: Callable[[Any], bool] = lambda _: False) -> bool:
        """Does the front's work for so long, or until something is told."""
        limit = time.monotonic() + seconds
        while time.monotonic() < limit:
            for told in self.keeper.receive(0.02):
                self.told.append(told)
                if isinstance(told, Wanted):
                    for reply in self._answer(told):
                        self.keeper.send(reply)
                if until(told):
                    return True
        return False

    def play_into_a_chord(self) -> None:
        assert self.serve(5, until=lambda told: isinstance(told, Shown) and told.what == "key")
        press(self.foot)
        assert self.serve(5, until=lambda told: isinstance(told, Shown) and told.beat == 3)

    def left(self) -> list[PlayerLeft]:
        return [told for told in self.told if isinstance(told, PlayerLeft)]


def press(foot: Any) -> None:
    frame = foot.play_now(DOWN)
    foot.play([(frame + 4800, UP)])


@pytest.fixture
def stage(recorder: Any, make_recorder: Callable[[str], Any], jack_server: Any) -> Iterator[Stage]:
    made = Stage(recorder, make_recorder("foot"))
    yield made
    made.keeper.stop("the test is over")
    jack_server.killed_a_client()


def silent_after(synth: Any, frame: int, owed: Callable[[Any], dict[Any, int]]) -> float:
    """Milliseconds from a frame until nothing was owed any more."""
    events = synth.events()
    assert owed([event for event in events if event.frame <= frame]), "nothing sounded when it died"
    assert owed(events) == {}
    last = next(at for at in range(len(events), 0, -1) if at == 1 or owed(events[: at - 1]) != {})
    return (events[last - 1].frame - frame) * 1000 / float(synth.rate)


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSEGV, signal.SIGABRT])
def test_a_killed_player_leaves_nothing_sounding_and_is_replaced(
    number: int, stage: Stage, owed: Callable[[Any], dict[Any, int]]
) -> None:
    """Killed from outside, or by a fault in a driver: the system sends SIGSEGV, its libraries SIGABRT."""
    stage.play_into_a_chord()
    first = stage.keeper.pid
    frame = stage.synth.frame()
    os.kill(stage.keeper.pid or 0, number)
    assert stage.serve(10, until=lambda told: isinstance(told, PlayerLeft))
    print(f"killed to silence: {silent_after(stage.synth, frame, owed):.1f} ms")
    (left,) = stage.left()
    assert left.released >= 4
    assert left.restarted
    assert f"signal {int(number)}" in left.reason
    assert stage.keeper.pid not in (None, first)
    stage.told.clear()
    stage.play_into_a_chord()  # the new one plays as the old one did
    stage.keeper.stop("enough")
    time.sleep(0.1)
    assert owed(stage.synth.events()) == {}


def test_a_stopped_player_is_noticed_and_replaced(
    stage: Stage, owed: Callable[[Any], dict[Any, int]]
) -> None:
    stage.play_into_a_chord()
    frame = stage.synth.frame()
    os.kill(stage.keeper.pid or 0, signal.SIGSTOP)
    assert stage.serve(10, until=lambda told: isinstance(told, PlayerLeft))
    print(f"stopped to silence: {silent_after(stage.synth, frame, owed):.1f} ms")
    assert "stood still" in stage.left()[0].reason


def test_a_player_that_is_asked_to_leave_is_not_replaced(
    stage: Stage, owed: Callable[[Any], dict[Any, int]]
) -> None:
    stage.play_into_a_chord()
    os.kill(stage.keeper.pid or 0, signal.SIGTERM)
    assert stage.serve(10, until=lambda told: isinstance(told, PlayerLeft))
    assert stage.left() == [PlayerLeft("SIGTERM", released=0, restarted=False)]
    assert owed(stage.synth.events()) == {}
    stage.keeper.send(Played(0, DOWN))  # nobody is there: nothing happens
    assert stage.keeper.receive(0) == []


def test_what_a_terminal_sends_does_not_reach_the_player(stage: Stage) -> None:
    pid = stage.keeper.pid or 0
    assert os.getsid(pid) == pid != os.getsid(0)
    os.kill(pid, signal.SIGINT)
    stage.play_into_a_chord()


def test_a_server_that_dies_in_mid_chord_is_told_and_nothing_hangs(stage: Stage, jack_server: Any) -> None:
    stage.play_into_a_chord()
    jack_server.signal(signal.SIGKILL)
    assert stage.serve(10, until=lambda told: isinstance(told, Shown) and told.what == "port")
    before = time.monotonic()
    stage.keeper.stop("enough")
    assert time.monotonic() - before < 5


def test_a_missing_destination_is_an_error_at_the_start(recorder: Any) -> None:
    setup = Setup(ports=(PortSetup("synth", "jack", to="prove:in"),), routes=(), tunes=1)
    keeper = Keeper(setup)
    with pytest.raises(PortError, match=r"matches 'prove:in'.*'probe:in'"):
        keeper.start()
    assert keeper.pid is None
    keeper.stop("twice is fine")


@pytest.fixture
def front(recorder: Any, make_recorder: Callable[[str], Any], jack_server: Any) -> Iterator[Any]:
    """A front in a process of its own, playing into a chord; with its player's process."""
    foot = make_recorder("foot")
    script = Path(__file__).parent / "mini_front.py"
    process = subprocess.Popen(
        [sys.executable, str(script), SETUP.to_json()],
        stdout=subprocess.PIPE,
        text=True,
        env=jack_server.environ,
        start_new_session=True,
    )
    assert process.stdout is not None
    player = int(process.stdout.readline())
    assert process.stdout.readline() == "ready\n"
    press(foot)
    recorder.wait_until(lambda events: len([e for e in events if e.data[0] & 0xF0 == 0x90]) > 6)
    yield process, player
    process.kill()
    process.wait()
    process.stdout.close()


def wait_gone(pid: int, seconds: float = 5.0) -> None:
    limit = time.monotonic() + seconds
    while Path(f"/proc/{pid}/cmdline").exists() and Path(f"/proc/{pid}/cmdline").read_bytes():
        assert time.monotonic() < limit, f"process {pid} is still there"
        time.sleep(0.01)


def test_a_killed_front_leaves_no_player_and_nothing_sounding(
    front: Any, recorder: Any, owed: Callable[[Any], dict[Any, int]]
) -> None:
    process, player = front
    frame = recorder.frame()
    process.kill()
    wait_gone(player)
    time.sleep(0.1)
    print(f"front killed to silence: {silent_after(recorder, frame, owed):.1f} ms")


def test_interrupting_the_fronts_group_releases_before_both_leave(
    front: Any, recorder: Any, owed: Callable[[Any], dict[Any, int]]
) -> None:
    process, player = front
    frame = recorder.frame()
    os.killpg(process.pid, signal.SIGINT)
    process.wait(10)
    wait_gone(player)
    time.sleep(0.1)
    print(f"interrupt to silence: {silent_after(recorder, frame, owed):.1f} ms")
    assert process.stdout.read().endswith("stopped\n")


def test_a_front_that_is_stopped_for_a_while_loses_nothing(front: Any, recorder: Any) -> None:
    process, player = front
    process.send_signal(signal.SIGSTOP)
    time.sleep(1.5)
    process.send_signal(signal.SIGCONT)
    time.sleep(0.5)
    assert Path(f"/proc/{player}").exists(), "the player was taken for dead because the front slept"


def test_a_synth_that_leaves_in_mid_chord_is_told_and_gets_its_programs_on_return(
    make_recorder: Callable[[str], Any], owed: Callable[[Any], dict[Any, int]]
) -> None:
    """With the ports that a rig has when it names none."""
    anything = Setup(
        ports=(PortSetup("main", "jack", to="", source=""),),
        routes=tuple(Route(part, 0, part, program=20 + part) for part in range(3)),
        tunes=2,
    )
    synth = make_recorder("asynth")
    stage = Stage(synth, make_recorder("foot"), anything)
    try:
        assert stage.keeper.connections == {0: (["asynth:in"], ["asynth:out", "foot:out"])}
        assert stage.keeper.destinations == {0: ["asynth:in"]}
        stage.play_into_a_chord()
        synth.close()
        gone = "main: asynth:in has gone; waiting for it"
        assert stage.serve(5, until=lambda told: isinstance(told, Shown) and told.text == gone)
        again = make_recorder("asynth")
        back = "main: asynth:in is back"
        assert stage.serve(5, until=lambda told: isinstance(told, Shown) and told.text == back)
        stage.serve(1.5)
        data = [event.data for event in again.events() if event.data != b"\xfe"]
        programs = [place for place, one in enumerate(data) if one[0] & 0xF0 == 0xC0]
        ons = [place for place, one in enumerate(data) if one[0] & 0xF0 == 0x90]
        assert {data[place] for place in programs} == {bytes([0xC0 + part, 20 + part]) for part in range(3)}
        assert data[0][0] & 0xF0 == 0x80  # what the chord owed comes first
        assert ons
        assert max(programs) < min(ons)
    finally:
        stage.keeper.stop("the test is over")
    time.sleep(0.1)
    assert owed(again.events()) == {}


def test_a_player_that_stands_still_is_ended_soon_when_the_front_leaves(
    stage: Stage, owed: Callable[[Any], dict[Any, int]]
) -> None:
    stage.play_into_a_chord()
    frame = stage.synth.frame()
    os.kill(stage.keeper.pid or 0, signal.SIGSTOP)
    stage.keeper.stop("Ctrl-C")
    time.sleep(0.1)
    ms = silent_after(stage.synth, frame, owed)
    print(f"stopped to silence on leaving: {ms:.1f} ms")
    assert ms < 1000 * (STALE_SECONDS / 2 + 1.5), "it waited for what stands still"


def test_a_player_that_is_replaced_readies_the_key_that_was_called(stage: Stage) -> None:
    stage.keeper.stop("another setup")
    zoned = replace(SETUP, key_zone=KeyZone(minor="tune"))
    stage = Stage(stage.synth, stage.foot, zoned)
    try:
        assert stage.serve(5, until=lambda told: isinstance(told, Shown) and told.what == "key")
        stage.keeper.send(Played(0, note_on(0, 33, 64)))
        called = stage.serve(
            5, until=lambda told: isinstance(told, Shown) and told.what == "key" and told.tonic == 9
        )
        assert called
        os.kill(stage.keeper.pid or 0, signal.SIGKILL)
        stage.told.clear()
        assert stage.serve(10, until=lambda told: isinstance(told, Shown) and told.what == "key")
        (wanted,) = [told for told in stage.told if isinstance(told, Wanted)]
        assert wanted == Wanted(Request(0, 9, None))
    finally:
        stage.keeper.stop("the test is over")
