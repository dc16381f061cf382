"""What a service manager is told, over a real datagram socket. The words are those of sd_notify(3)."""

from __future__ import annotations

import os
import socket
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from introit.cli.notify import Notifier, datagram, socket_address
from introit.cli.service import Service
from introit.live.events import Shown
from introit.units import NS_PER_MS, NS_PER_SECOND

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="service managers of this kind are Unix's")


class Manager:
    """The other end of the socket."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.end = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.end.bind(socket_address(address))
        self.end.setblocking(False)

    def told(self) -> list[bytes]:
        messages = []
        try:
            while True:
                messages.append(self.end.recv(4096))
        except BlockingIOError:
            return messages


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[Manager]:
    made = Manager(str(tmp_path / "notify"))
    yield made
    made.end.close()


def test_a_message_is_a_name_and_a_value_a_line() -> None:
    assert datagram(ready=1, status="ready: Slow Water") == b"READY=1\nSTATUS=ready: Slow Water"
    assert datagram(status="two\nREADY=1\tlines") == b"STATUS=two READY=1 lines", (
        "no title sends words of ours"
    )
    assert datagram(status="Für Übung") == "STATUS=Für Übung".encode()


def test_it_arrives(manager: Manager) -> None:
    notifier = Notifier(manager.address)
    notifier.tell(ready=1)
    notifier.tell(stopping=1, status="leaving")
    assert manager.told() == [b"READY=1", b"STOPPING=1\nSTATUS=leaving"]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux has sockets with no place among the files")
def test_a_socket_without_a_file() -> None:
    manager = Manager(f"@introit-test-{os.getpid()}")
    Notifier(manager.address).tell(ready=1)
    assert manager.told() == [b"READY=1"]
    manager.end.close()


def test_a_manager_that_has_gone_or_does_not_read_stops_nothing(manager: Manager) -> None:
    notifier = Notifier(manager.address)
    for _ in range(5000):  # more than a socket holds
        notifier.tell(status="x" * 100)
    manager.end.close()
    notifier.tell(ready=1)
    Notifier("/nowhere/at/all").tell(ready=1)


def test_the_environment_names_it_and_is_cleared_for_children() -> None:
    environ = {"NOTIFY_SOCKET": "/x", "WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "7", "HOME": "/h"}
    notifier = Notifier.of(environ, pid=7)
    assert notifier is not None
    assert environ == {"HOME": "/h"}
    assert notifier.every_ns == 15 * NS_PER_SECOND, "half of it, as sd_watchdog_enabled(3) advises"


@pytest.mark.parametrize(
    "environ",
    [
        {"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "8"},  # another process is meant
        {"WATCHDOG_USEC": "0"},
        {"WATCHDOG_USEC": "soon"},
        {},
    ],
)
def test_no_watchdog(environ: dict[str, str]) -> None:
    notifier = Notifier.of({"NOTIFY_SOCKET": "/x", **environ}, pid=7)
    assert notifier is not None
    assert notifier.every_ns is None


def test_nobody_listens() -> None:
    assert Notifier.of({}) is None
    Service(None).opened()


def test_the_watchdog_is_fed_in_time_and_no_more_often(manager: Manager) -> None:
    notifier = Notifier(manager.address, 2 * NS_PER_SECOND)
    fed = []
    for ms in range(0, 10_000, 250):
        notifier.alive(ms * NS_PER_MS)
        fed += [ms] * len(manager.told())
    assert fed == list(range(0, 10_000, 1000))


# --- an evening as a service ------------------------------------------------------------------------


class Clock:
    def __init__(self) -> None:
        self.ns = 0

    def __call__(self) -> int:
        return self.ns


def test_the_watchdog_is_fed_only_while_the_player_is_well(manager: Manager) -> None:
    clock = Clock()
    service = Service(Notifier(manager.address, 2 * NS_PER_SECOND), clock)
    service.opened()
    assert manager.told() == [b"READY=1"]
    for well in (True, False, False, True):
        service.turned(well=well)
        assert manager.told() == ([b"WATCHDOG=1"] if well else [])
        clock.ns += NS_PER_SECOND
    service.leaving("SIGTERM")
    assert manager.told() == [b"STOPPING=1\nSTATUS=leaving: SIGTERM"]


def test_the_status_says_what_is_ready_once(manager: Manager) -> None:
    service = Service(Notifier(manager.address))
    ready = Shown(0, "ready", "state", title="Slow Water", key="Eb", tempo=66.0)
    for shown in (
        Shown(0, "ready", "state"),  # getting ready: no title yet
        ready,
        ready,
        Shown(0, "playing", "beat", title="Slow Water", key="Eb", tempo=66.0),
        Shown(0, "playing", "state", title="Slow Water", key="Eb", tempo=66.0),
    ):
        service.shown(shown)
    assert manager.told() == [b"STATUS=ready: Slow Water, Eb, 66", b"STATUS=playing: Slow Water, Eb, 66"]
