"""The log while somebody practises: never raises, never waits, says once what is wrong, and tries again."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

import pytest

from introit.practice.log import Played, PracticeLog
from introit.practice.log.opening import LogError
from introit.practice.log.store import Store

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)
Make = Callable[..., Played]


class Disk:
    """Stands where the store writes; can be full, and can stall."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.full = ""
        self.tries = 0
        self.free = threading.Event()
        self.free.set()
        real = Store.add

        def add(store: Store, passes: Sequence[Played], zone: tzinfo | None = None) -> None:
            self.tries += 1
            self.free.wait()
            if self.full:
                raise LogError(self.full)
            real(store, passes, zone)

        monkeypatch.setattr(Store, "add", add)


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    return Disk(monkeypatch)


def kept(path: Path) -> list[Played]:
    store = Store.open(path, lambda message: None)
    passes = store.passes()
    store.close()
    return passes


def test_each_pass_is_on_the_disk_while_practice_goes_on(path: Path, played: Make) -> None:
    said: list[str] = []
    with PracticeLog.open(said.append, path=path, zone=UTC) as log:
        for n in range(3):
            log.add(played(NOON + timedelta(minutes=n)))
            assert log.settle()
            assert len(kept(path)) == n + 1 == log.kept
    assert said == []


def test_a_stalled_disk_delays_nobody(path: Path, played: Make, disk: Disk) -> None:
    disk.free.clear()
    log = PracticeLog.open(lambda message: None, path=path)
    for n in range(50):
        log.add(played(NOON + timedelta(minutes=n)))  # would stand still here for ever
    assert not log.settle(0)
    disk.free.set()
    assert log.settle()
    log.close()
    assert len(kept(path)) == 50


def test_a_full_disk_is_said_once_and_the_passes_come_when_there_is_room(
    path: Path, played: Make, disk: Disk
) -> None:
    said: list[str] = []
    log = PracticeLog.open(said.append, path=path, zone=UTC)
    disk.full = "the disk is full"
    for n in range(3):
        log.add(played(NOON + timedelta(minutes=n)))
        assert not log.settle()
    assert disk.tries == 3 * 2  # in the open file and in one opened anew, with each pass and not in between
    assert said == ["the disk is full. Passes are kept, and tried again with the next one"]
    disk.full = ""
    log.add(played(NOON + timedelta(minutes=3)))
    assert log.settle()
    assert log.failure == ""
    log.close()
    assert [one.began.minute for one in kept(path)] == [0, 1, 2, 3]
    assert len(said) == 1


def test_what_failed_is_tried_once_more_at_the_end(path: Path, played: Make, disk: Disk) -> None:
    said: list[str] = []
    with PracticeLog.open(said.append, path=path, zone=UTC) as log:
        disk.full = "full"
        log.add(played())
        log.settle()
        disk.full = ""
    assert kept(path) == [played()]
    assert said == []


def test_what_is_lost_at_the_end_is_said(path: Path, played: Make, disk: Disk) -> None:
    said: list[str] = []
    with PracticeLog.open(said.append, path=path) as log:
        disk.full = "the disk is full"
        log.add(played())
        log.add(played(NOON + timedelta(minutes=1)))
    assert said[-1] == "2 passes could not be kept: the disk is full"
    assert kept(path) == []


def test_without_a_log_practice_goes_on_and_says_so(tmp_path: Path, played: Make) -> None:
    (tmp_path / "taken").touch()
    said: list[str] = []
    with PracticeLog.open(said.append, path=tmp_path / "taken" / "practice.sqlite") as log:
        log.add(played())
        assert not log.settle(0)
        assert log.kept == 0
    assert len(said) == 1
    assert said[0].endswith("practice goes on without a log")
    assert log.failure


def test_a_newer_log_means_none_and_is_left_alone(path: Path, played: Make) -> None:
    Store.open(path, lambda message: None).close()
    import sqlite3

    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    before = path.read_bytes()
    said: list[str] = []
    with PracticeLog.open(said.append, path=path) as log:
        log.add(played())
    assert "newer introit" in said[0]
    assert path.read_bytes() == before


def test_closing_twice_and_adding_afterwards_do_no_harm(path: Path, played: Make) -> None:
    log = PracticeLog.open(lambda message: None, path=path)
    log.add(played())
    log.close()
    log.close()
    log.add(played())
    assert len(kept(path)) == 1


def test_whatever_goes_wrong_nobodys_practice_ends_of_it(
    path: Path, played: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    def add(*_: object) -> None:
        raise ZeroDivisionError("of ours")

    monkeypatch.setattr(Store, "add", add)
    said: list[str] = []
    with PracticeLog.open(said.append, path=path) as log:
        log.add(played())
        assert not log.settle()
        log.add(played())
    assert "an error of our own, ZeroDivisionError: of ours" in said[0]
    assert said[-1].startswith("2 passes could not be kept")
