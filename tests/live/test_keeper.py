"""The front's side, with real player processes whose ports are in memory."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from introit.errors import PlayerError, PortError
from introit.live.events import Ordered, Played, Reordered, Sent, Shown, Taught, Wanted
from introit.live.keeper import RESTARTS, STALE_SECONDS, Keeper, PlayerLeft
from introit.live.life import Life
from introit.live.messages import control
from introit.live.setup import PortSetup, Setup
from introit.performance import PARTS
from introit.testing import SketchFront, sketch_setup

COMP = PARTS.index("comp")
SCRIPTED = "from introit.live import player; import sys, os; {}; sys.exit(player.main(sys.argv[1:]))"


def scripted(line: str) -> tuple[str, ...]:
    """A player that first does something else."""
    return (sys.executable, "-c", SCRIPTED.format(line))


@pytest.fixture
def make() -> Iterator[Callable[..., Keeper]]:
    made: list[Keeper] = []

    def keeper(setup: Setup | None = None, **options: Any) -> Keeper:
        made.append(Keeper(setup or sketch_setup(), **options))
        return made[-1]

    yield keeper
    for one in made:
        one.stop("the test is over")


def until(keeper: Keeper, found: Callable[[Any], bool]) -> list[Any]:
    """Everything told up to and with what is looked for; the front's answers are given on the way."""
    told: list[Any] = []
    front = SketchFront(tempo=240)
    for _ in range(400):
        for one in keeper.receive(0.05):
            told.append(one)
            for reply in front(one) if isinstance(one, Wanted) else ():
                keeper.send(reply)
        if any(map(found, told)):
            return told
    raise AssertionError(f"not told; but {told}")


def test_a_press_at_the_front_plays_in_the_player(make: Callable[..., Keeper]) -> None:
    keeper = make()
    keeper.start()
    assert keeper.opened is not None
    assert keeper.fileno() >= 0
    until(keeper, lambda told: isinstance(told, Shown) and told.what == "key")
    keeper.send(Played(0, control(0, 64, 127)))
    told = until(keeper, lambda told: isinstance(told, Sent) and told.data[0] & 0xF0 == 0x90)
    assert any(isinstance(one, Shown) and one.state == "playing" for one in told)
    keeper.stop("enough")
    assert keeper.pid is None
    assert keeper.fileno() == -1
    assert keeper.receive(0) is not None
    assert keeper.chatter == []


def test_one_that_waits_is_the_first_and_only_the_first(make: Callable[..., Keeper]) -> None:
    setup = sketch_setup()
    waiting = Life(len(setup.ports))
    keeper = make(setup, waiting=waiting)
    keeper.start()
    first = keeper.pid
    assert first == waiting.process.pid
    waiting.dismiss()  # it is the keeper's now
    assert waiting.process.poll() is None
    os.kill(first, signal.SIGKILL)
    told = until(keeper, lambda told: isinstance(told, PlayerLeft))
    assert told[-1].restarted
    assert keeper.pid not in (None, first)


@pytest.mark.parametrize("line", ["pass", "import time; time.sleep(0.3)", "sys.exit(3)"])
def test_one_that_nobody_greets_is_dismissed(line: str) -> None:
    waiting = Life(1, program=scripted(line))
    waiting.dismiss()
    assert waiting.process.poll() is not None
    assert waiting.socket.fileno() == -1


def test_one_that_ended_while_it_waited_is_told(make: Callable[..., Keeper]) -> None:
    setup = sketch_setup()
    waiting = Life(len(setup.ports), program=scripted("sys.exit(3)"))
    assert waiting.wait_buried(10)
    with pytest.raises(PlayerError, match="ended with code 3"):
        make(setup, waiting=waiting).start()


def test_a_player_is_well_while_its_heart_beats(
    make: Callable[..., Keeper], monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper = make()
    assert not keeper.well
    keeper.start()
    assert keeper.well
    later = time.monotonic() + 2 * STALE_SECONDS
    monkeypatch.setattr(time, "monotonic", lambda: later)  # nobody has looked since
    assert not keeper.well
    monkeypatch.undo()
    keeper.receive(0.3)
    assert keeper.well
    keeper.stop("enough")
    assert not keeper.well


def test_a_player_that_dies_is_replaced_a_few_times_only(make: Callable[..., Keeper]) -> None:
    keeper = make()
    keeper.start()
    lives = []
    for _ in range(RESTARTS + 1):
        os.kill(keeper.pid or 0, signal.SIGKILL)
        lives += until(keeper, lambda told: isinstance(told, PlayerLeft))
    left = [one for one in lives if isinstance(one, PlayerLeft)]
    assert [one.restarted for one in left] == [True] * RESTARTS + [False]
    assert keeper.pid is None
    keeper.send(Played(0, b"\xf8"))
    assert keeper.receive(0) == []


def test_a_new_player_knows_how_many_tunes_the_set_has_come_to_have(make: Callable[..., Keeper]) -> None:
    keeper = make(sketch_setup(tunes=1))
    keeper.start()
    keeper.send(Reordered((0, 1, 2)))
    until(keeper, lambda told: isinstance(told, Shown) and told.what == "key")
    os.kill(keeper.pid or 0, signal.SIGKILL)
    until(keeper, lambda told: isinstance(told, PlayerLeft) and told.restarted)
    keeper.send(Ordered("tune", value=2))
    until(keeper, lambda told: isinstance(told, Shown) and (told.what, told.tune) == ("key", 2))


def test_a_new_player_knows_that_a_lesson_is_open(make: Callable[..., Keeper]) -> None:
    """A teacher's foot must not start the intro because the player was replaced."""
    keeper = make()
    keeper.start()
    keeper.send(Taught("open"))
    until(keeper, lambda told: isinstance(told, Shown) and told.step == 0)
    os.kill(keeper.pid or 0, signal.SIGKILL)
    until(keeper, lambda told: isinstance(told, PlayerLeft) and told.restarted)
    until(keeper, lambda told: isinstance(told, Shown) and told.step == 0)


def test_a_player_that_raises_says_why_and_keeps_its_traceback_for_the_log(
    make: Callable[..., Keeper],
) -> None:
    keeper = make(program=scripted("player.run = lambda *a, **k: 1 / 0"))
    keeper.start()
    until(keeper, lambda told: isinstance(told, PlayerLeft) and "ZeroDivisionError" in told.reason)
    assert any("Traceback" in line for line in keeper.chatter)


def test_a_port_that_cannot_be_opened_is_a_port_error(make: Callable[..., Keeper]) -> None:
    keeper = make(Setup(ports=(PortSetup("synth", "carrier-pigeon", to=""),), routes=(), tunes=1))
    with pytest.raises(PortError, match="unknown system 'carrier-pigeon'"):
        keeper.start()
    assert keeper.pid is None


def test_a_player_that_cannot_start_is_a_player_error(make: Callable[..., Keeper]) -> None:
    keeper = make(program=(sys.executable, "-c", "import sys; sys.exit('no such luck')"))
    with pytest.raises(PlayerError, match=r"could not be started: .*no such luck"):
        keeper.start()


def test_a_player_of_another_version_is_refused(make: Callable[..., Keeper]) -> None:
    keeper = make(
        program=scripted("from introit.live import wire; player.Hello = lambda: wire.Hello(version=9)")
    )
    with pytest.raises(PlayerError, match="speaks version 9; this one 3"):
        keeper.start()


def test_what_drivers_print_stays_out_of_sight(
    make: Callable[..., Keeper], capfd: pytest.CaptureFixture[str]
) -> None:
    keeper = make(program=scripted("os.write(2, b'ALSA lib: chatter\\n'); os.write(1, b'more')"))
    keeper.start()
    keeper.stop("enough")
    assert capfd.readouterr() == ("", "")
    assert keeper.chatter == ["ALSA lib: chatter"]


def test_stopping_before_starting_is_nothing(make: Callable[..., Keeper]) -> None:
    keeper = make()
    keeper.stop("never began")
    assert keeper.receive(0) == []


HOLDS_UP = """
from introit.live.ports import memory
plain = memory.MemoryPort.hand
def hand(self, cues):
    if any(cue.data[0] & 0xF0 == 0x80 for cue in cues):
        {}
    plain(self, cues)
memory.MemoryPort.hand = hand
"""
"""A driver that does something bad as the first note is to end."""


def misbehaving(what: str) -> tuple[str, ...]:
    return scripted(f"exec({HOLDS_UP.format(what)!r})")


@pytest.mark.parametrize(
    ("what", "says"),
    [
        ("__import__('time').sleep(60)", "the player stood still and was ended"),
        ("__import__('ctypes').string_at(0)", "SIGSEGV, a fault in a driver or a library, in string_at"),
        ("raise OSError('the device said no')", "the device said no"),
    ],
)
def test_a_receiver_that_stalls_a_driver_that_faults_and_one_that_raises_are_told_and_replaced(
    what: str, says: str, make: Callable[..., Keeper]
) -> None:
    keeper = make(program=misbehaving(what))
    keeper.start()
    until(keeper, lambda told: isinstance(told, Shown) and told.what == "key")
    keeper.send(Played(0, control(0, 64, 127)))
    told = until(keeper, lambda told: isinstance(told, PlayerLeft))
    left = told[-1]
    assert says in left.reason
    assert left.restarted
    until(keeper, lambda told: isinstance(told, Shown) and told.what == "key")


def test_a_pause_ends_the_player_and_a_start_goes_on_with_tune_and_mutes(make: Callable[..., Keeper]) -> None:
    keeper = make(sketch_setup(tunes=3))
    keeper.pause("before anything was started")
    for _ in range(RESTARTS + 2):  # which are no deaths
        keeper.start()
        until(keeper, lambda told: isinstance(told, Shown) and told.what == "key")
        keeper.send(Ordered("mute", COMP, 1))
        keeper.send(Ordered("tune", value=2))
        until(keeper, lambda told: isinstance(told, Shown) and (told.what, told.tune) == ("key", 2))
        keeper.pause("Ctrl-Z")
        assert keeper.pid is None
        assert keeper.receive(0) == []
    keeper.start()
    told = until(keeper, lambda told: isinstance(told, Shown) and told.what == "key")
    assert [one.tune for one in told if isinstance(one, Shown) and one.what == "key"] == [2]
    keeper.send(Played(0, control(0, 64, 127)))
    told = until(keeper, lambda told: isinstance(told, Shown) and told.state == "in the tune")
    channels = {one.data[0] & 15 for one in told if isinstance(one, Sent) and one.data[0] & 0xF0 == 0x90}
    assert channels == {0, 2}
