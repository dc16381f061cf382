"""The player's link to the front, over a socket pair in one process; what the player imports."""

from __future__ import annotations

import socket
import subprocess
import sys
from collections.abc import Iterator

import pytest

from introit.errors import PlayerError
from introit.live.events import Played, Quit, Ready, Request, Wanted
from introit.live.inbox import Inbox
from introit.live.life import Life
from introit.live.player import FrontLink
from introit.live.wire import Decoder, Hello, Left, encode
from introit.testing import sketch, sketch_setup


class Ends:
    def __init__(self) -> None:
        self.front, player = socket.socketpair()
        self.inbox = Inbox()
        self.link = FrontLink(player, self.inbox)
        self.decoder = Decoder()

    def said(self) -> list[object]:
        return list(self.decoder.feed(self.front.recv(65536)))


@pytest.fixture
def ends() -> Iterator[Ends]:
    made = Ends()
    yield made
    made.front.close()
    made.link.close(Left(""))
    made.inbox.close()


def greeted(ends: Ends) -> Ends:
    ends.front.sendall(encode(Hello(sketch_setup().to_json())))
    assert ends.link.hello() == sketch_setup()
    assert ends.said() == [Hello()]
    return ends


def test_the_setup_comes_first_and_is_answered(ends: Ends) -> None:
    greeted(ends)


def test_a_front_that_says_nothing_and_leaves_is_an_error(ends: Ends) -> None:
    ends.front.close()
    with pytest.raises(PlayerError, match="left before it said"):
        ends.link.hello()


def test_what_the_front_says_wakes_the_loop_and_is_heard(ends: Ends) -> None:
    greeted(ends)
    assert ends.link.receive() == []
    ready = Ready(0, True, sketch())
    ends.front.sendall(encode(ready) + encode(Played(0, b"\xb0\x40\x7f")))
    assert ends.inbox.wait(0)
    assert ends.link.receive() == [ready, Played(0, b"\xb0\x40\x7f")]


def test_the_fronts_end_is_heard_once_as_quit(ends: Ends) -> None:
    greeted(ends)
    ends.front.close()
    assert ends.link.receive() == [Quit("the front is gone")]
    assert ends.link.receive() == []
    assert not ends.inbox.wait(0), "a closed socket would be readable for ever"
    ends.link.send(Wanted(Request(0)))


def test_nonsense_from_the_front_is_heard_as_quit(ends: Ends) -> None:
    greeted(ends)
    ends.front.sendall(b"\xff" * 64)
    (event,) = ends.link.receive()
    assert isinstance(event, Quit)
    assert "allowed is" in event.reason
    assert ends.link.gone


def test_what_is_not_for_the_player_is_heard_as_quit(ends: Ends) -> None:
    greeted(ends)
    ends.front.sendall(encode(Wanted(Request(0))))
    (event,) = ends.link.receive()
    assert isinstance(event, Quit)
    assert "sent Wanted" in event.reason


def test_importing_the_player_brings_in_the_live_core_only() -> None:
    script = "import sys, introit.live.player; print(*sorted(sys.modules))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    held = set(done.stdout.split())
    foreign = {
        "yaml",
        "pydantic",
        "numpy",
        "click",
        "rich",
        "mido",
        "jack",
        "rtmidi",
        "supriya_midi",
        "_jack",
    }
    assert not held & foreign
    assert not {
        name for name in held if name.startswith(("introit.theory", "introit.library", "introit.arrange"))
    }


def test_a_front_that_goes_on_unanswered_is_an_error(ends: Ends) -> None:
    ends.front.sendall(encode(Hello(sketch_setup().to_json())) + encode(Quit("already")))
    with pytest.raises(PlayerError, match="before it was answered"):
        ends.link.hello()


def test_the_fronts_end_is_told_once(ends: Ends) -> None:
    told: list[bool] = []
    front, player = socket.socketpair()
    link = FrontLink(player, ends.inbox, on_gone=lambda: told.append(True))
    front.close()
    link.send(Wanted(Request(0)))
    link.send(Wanted(Request(0)))
    link.close(Left(""))
    assert told == [True]


HELD_UP = """
import sys, threading
from introit.live import player
from introit.live.ports import memory
memory.MemoryPort.close = lambda self: threading.Event().wait()
player.ALONE_SECONDS = 0.5
sys.exit(player.main(sys.argv[1:]))
"""


def test_a_player_that_cannot_close_a_port_ends_all_the_same_when_its_front_is_gone() -> None:
    life = Life(1, program=(sys.executable, "-c", HELD_UP))
    life.greet(sketch_setup())
    assert life.socket.recv(65536)
    life.socket.close()
    assert life.wait_buried(20)
    assert life.process.returncode == 1
    assert "Timeout" in "".join(life.last_words())
    life.close()
