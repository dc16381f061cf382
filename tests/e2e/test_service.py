"""`introit run --service` as systemd would run it, over real JACK: ready, fed, read again, ended."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest


class Manager:
    """The notification socket, as a service manager has one."""

    def __init__(self, path: Path) -> None:
        self.end = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.end.bind(str(path))
        self.environ = {
            "NOTIFY_SOCKET": str(path),
            "WATCHDOG_USEC": "400000",
        }
        self.told: list[str] = []

    def until(self, words: str, seconds: float = 20.0) -> str:
        limit = time.monotonic() + seconds
        while time.monotonic() < limit:
            self.end.settimeout(max(0.01, limit - time.monotonic()))
            try:
                self.told.append(self.end.recv(4096).decode())
            except TimeoutError:
                break
            if words in self.told[-1]:
                return self.told[-1]
        raise AssertionError(f"no {words!r} in {self.told}")


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[Manager]:
    made = Manager(tmp_path / "notify")
    yield made
    made.end.close()


@pytest.fixture
def evening(
    e2e_helper: Callable[[str], Any],
    jack_server: Any,
    make_recorder: Callable[[str], Any],
    tmp_path: Path,
    manager: Manager,
) -> Iterator[Any]:
    stage, listen = make_recorder("stage"), make_recorder("listen")
    started = e2e_helper("evening").Evening(
        tmp_path,
        stage=stage,
        listen=listen,
        environ={**jack_server.environ, **manager.environ, "XDG_STATE_HOME": str(tmp_path / "state")},
        options=["--service"],
    )
    yield started
    started.close()
    jack_server.killed_a_client()


def playing(evening: Any) -> None:
    evening.wait_for("ready: Copper Kettle Lane")
    evening.press()
    evening.wait_for("playing")
    time.sleep(0.7)
    assert any(event.data[0] & 0xF0 == 0x90 for event in evening.listen.events())


def test_ready_status_and_watchdog_are_told_and_the_end(evening: Any, manager: Manager) -> None:
    assert manager.until("READY=1") == "READY=1"
    assert all("STATUS" not in told for told in manager.told), "ready comes first"
    manager.until("STATUS=ready: Copper Kettle Lane, Bb, 240")
    for _ in range(3):
        assert manager.until("WATCHDOG=1") == "WATCHDOG=1"
    environ = Path(f"/proc/{evening.player()}/environ").read_bytes()
    assert b"NOTIFY_SOCKET" not in environ, "it is no child's business"
    assert evening.end() == 0
    manager.until("STOPPING=1")


def test_a_hang_up_reads_the_set_again_and_ends_nothing(evening: Any, tmp_path: Path) -> None:
    evening.wait_for("ready: Copper Kettle Lane")
    evening.process.send_signal(signal.SIGHUP)
    evening.wait_for("read again: everything, as asked; nothing has changed")
    chosen = tmp_path / "set.yaml"
    chosen.write_text(chosen.read_text().replace("Copper Kettle Lane", "Tin Kettle Lane"))
    evening.process.send_signal(signal.SIGHUP)
    evening.wait_for("Tin Kettle Lane")
    if not any("heard from the next start on" in line for line in evening.printed):
        evening.wait_for("read again: everything, as asked; heard from the next start on")
    assert evening.process.poll() is None
    assert evening.end() == 0


@pytest.mark.parametrize("first", ["player", "front"])
def test_both_processes_told_to_end_at_once_leave_no_note(
    evening: Any, manager: Manager, owed: Callable[[Any], dict[Any, int]], first: str
) -> None:
    """As `KillMode=control-group` tells them, in whatever order."""
    playing(evening)
    pids = [evening.player(), evening.process.pid]
    for pid in pids if first == "player" else reversed(pids):
        os.kill(pid, signal.SIGTERM)
    assert evening.process.wait(15) == 0
    time.sleep(0.2)
    assert owed(evening.listen.events()) == {}
    manager.until("STOPPING=1")


def test_a_front_that_dies_and_a_player_that_is_told_to_end_then_leave_no_note(
    evening: Any, owed: Callable[[Any], dict[Any, int]]
) -> None:
    """As systemd does it when the main process has gone: SIGTERM for whoever is left."""
    playing(evening)
    player = evening.player()
    evening.process.kill()
    evening.process.wait()
    os.kill(player, signal.SIGTERM)
    limit = time.monotonic() + 10
    while Path(f"/proc/{player}").exists() and time.monotonic() < limit:
        time.sleep(0.05)
    time.sleep(0.2)
    assert owed(evening.listen.events()) == {}


def test_a_synth_that_is_not_there_is_never_told_as_ready(
    e2e_helper: Callable[[str], Any],
    jack_server: Any,
    manager: Manager,
    tmp_path: Path,
) -> None:
    kit = e2e_helper("evening")
    (tmp_path / "rig.yaml").write_text(kit.RIG)
    (tmp_path / "set.yaml").write_text(kit.SET)
    done = subprocess.run(
        [*kit.command(), "run", "--service", str(tmp_path / "set.yaml"), "--rig", str(tmp_path / "rig.yaml")],
        capture_output=True,
        text=True,
        check=False,
        env={**jack_server.environ, **manager.environ},
        timeout=60,
    )
    assert done.returncode == 1, "so that systemd tries again"
    assert "listen:in" in done.stderr
    manager.until("STOPPING=1")
    assert not any("READY" in told for told in manager.told)
