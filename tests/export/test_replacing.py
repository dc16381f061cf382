"""Who saves by hand while the page saves: his is what stays, whenever he comes and however he saves.

No moment is left to luck: each is put where it hurts, at the one step in which the two files change places.
"""

from __future__ import annotations

import errno
import os
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from introit.errors import IntroitError
from introit.export import replacing
from introit.export.replacing import ChangedError, exchange, replace_unchanged

READ, OURS, HAND, LATER = b"as it was read\n", b"ours\n", b"saved by hand\n", b"and once more\n"

linux = pytest.mark.skipif(sys.platform != "linux", reason="two files change places in one step on Linux")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "set.yaml"
    path.write_bytes(READ)
    return path


def alone(path: Path) -> bool:
    return list(path.parent.iterdir()) == [path]


def renamed_over(path: Path, data: bytes) -> None:
    """As editors save that fill a new file first."""
    new = path.with_name("of the editor")
    new.write_bytes(data)
    new.replace(path)


def written_into(path: Path, data: bytes) -> None:
    """As editors save that keep the file."""
    path.write_bytes(data)


class Exchanges:
    """The step itself, with something done before or after its first, second … time."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.before: dict[int, Callable[[], object]] = {}
        self.after: dict[int, Callable[[], object]] = {}
        self.times = 0
        monkeypatch.setattr(replacing, "exchange", self)

    def __call__(self, one: Path, other: Path) -> bool:
        self.times += 1
        turn = self.times
        self.before.get(turn, lambda: None)()
        done = exchange(one, other)
        self.after.get(turn, lambda: None)()
        return done


@pytest.fixture
def exchanges(monkeypatch: pytest.MonkeyPatch) -> Exchanges:
    return Exchanges(monkeypatch)


def test_what_was_read_is_replaced(path: Path) -> None:
    path.chmod(0o640)
    replace_unchanged(path, OURS, READ)
    assert path.read_bytes() == OURS
    assert path.stat().st_mode & 0o777 == 0o640
    assert alone(path)


def test_a_link_is_followed(path: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.yaml"
    link.symlink_to(path)
    replace_unchanged(link, OURS, READ)
    assert link.is_symlink()
    assert path.read_bytes() == OURS


@pytest.mark.parametrize("save", [renamed_over, written_into])
def test_what_was_saved_before_is_left(path: Path, save: Callable[[Path, bytes], None]) -> None:
    save(path, HAND)
    with pytest.raises(ChangedError):
        replace_unchanged(path, OURS, READ)
    assert path.read_bytes() == HAND
    assert alone(path)


@linux
def test_a_save_in_the_gap_goes_back_to_its_place(path: Path, exchanges: Exchanges) -> None:
    exchanges.before[1] = lambda: renamed_over(path, HAND)
    with pytest.raises(ChangedError):
        replace_unchanged(path, OURS, READ)
    assert path.read_bytes() == HAND
    assert exchanges.times == 2
    assert alone(path)


@linux
def test_the_later_of_two_saves_is_what_stays(path: Path, exchanges: Exchanges) -> None:
    """One before the two change places, one over ours before the first is back."""
    exchanges.before[1] = lambda: renamed_over(path, HAND)
    exchanges.before[2] = lambda: renamed_over(path, LATER)
    with pytest.raises(ChangedError):
        replace_unchanged(path, OURS, READ)
    assert path.read_bytes() == LATER
    assert alone(path)


@linux
def test_the_last_of_three_saves_is_what_stays(path: Path, exchanges: Exchanges) -> None:
    exchanges.before[1] = lambda: renamed_over(path, HAND)
    exchanges.before[2] = lambda: renamed_over(path, LATER)
    exchanges.before[3] = lambda: renamed_over(path, b"the third\n")
    with pytest.raises(ChangedError):
        replace_unchanged(path, OURS, READ)
    assert path.read_bytes() == b"the third\n"
    assert alone(path)


@linux
def test_a_save_over_ours_stays(path: Path, exchanges: Exchanges) -> None:
    """It came after the edit was in the file, and it is nobody's business but his who made it."""
    exchanges.after[1] = lambda: renamed_over(path, HAND)
    replace_unchanged(path, OURS, READ)
    assert path.read_bytes() == HAND
    assert alone(path)


@linux
def test_a_file_that_is_being_written_is_left(path: Path) -> None:
    with path.open("r+b") as editor:
        with pytest.raises(ChangedError, match="just being written"):
            replace_unchanged(path, OURS, READ)
        editor.write(HAND)
        editor.truncate()
    assert path.read_bytes() == HAND
    assert alone(path)


@linux
@pytest.mark.parametrize("moment", ["before", "after"])
def test_who_opens_it_to_write_meanwhile_writes_into_what_stays(
    path: Path, exchanges: Exchanges, moment: str
) -> None:
    """He waits for the lease with the old file already in his hand: so that is the one that must stay."""
    editors: list[threading.Thread] = []
    old = path.stat().st_ino

    def open_to_write() -> None:
        # By its number: what he found under the name before the files changed places.
        descriptor = os.open(f"/proc/self/fd/{held}", os.O_WRONLY | os.O_TRUNC)
        os.write(descriptor, HAND)
        os.close(descriptor)

    def come() -> None:
        editors.append(threading.Thread(target=open_to_write))
        editors[0].start()
        while lease[0].is_broken() is False:
            editors[0].join(0.001)

    lease: list[Any] = []
    real = replacing._Lease

    class Seen(real):  # type: ignore[misc,valid-type]
        def __enter__(self) -> Any:
            lease.append(self)
            return super().__enter__()

    held = os.open(path, os.O_RDONLY)
    try:
        getattr(exchanges, moment)[1] = come
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(replacing, "_Lease", Seen)
            with pytest.raises(ChangedError):
                replace_unchanged(path, OURS, READ)
        editors[0].join(10)
    finally:
        os.close(held)
    assert path.stat().st_ino == old
    assert path.read_bytes() == HAND
    assert alone(path)


@linux
def test_a_file_that_is_away_for_a_moment_is_not_made_anew(path: Path, exchanges: Exchanges) -> None:
    """Some editors move the old file away, then write a new one under its name."""
    exchanges.before[1] = lambda: path.rename(path.with_name("set.yaml~"))
    with pytest.raises(ChangedError, match="not there"):
        replace_unchanged(path, OURS, READ)
    assert [one.name for one in path.parent.iterdir()] == ["set.yaml~"]


@linux
def test_a_save_is_put_back_though_ours_was_moved_away(path: Path, exchanges: Exchanges) -> None:
    exchanges.before[1] = lambda: renamed_over(path, HAND)
    exchanges.before[2] = lambda: path.rename(path.with_name("set.yaml~"))
    with pytest.raises(ChangedError):
        replace_unchanged(path, OURS, READ)
    assert path.read_bytes() == HAND


def test_where_files_cannot_change_places_it_is_looked_at_and_renamed(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(replacing, "exchange", lambda one, other: False)
    replace_unchanged(path, OURS, READ)
    assert path.read_bytes() == OURS
    with pytest.raises(ChangedError):
        replace_unchanged(path, b"again\n", READ)
    assert path.read_bytes() == OURS
    assert alone(path)


@linux
def test_where_there_are_no_leases_it_goes_without(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import fcntl

    def none(descriptor: int, command: int, argument: Any = 0) -> int:
        raise OSError(errno.EINVAL, "Invalid argument")

    monkeypatch.setattr(fcntl, "fcntl", none)
    replace_unchanged(path, OURS, READ)
    assert path.read_bytes() == OURS
    assert alone(path)


def test_a_full_disk_leaves_the_old_file(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(IntroitError, match="cannot be written: No space left"):
        replace_unchanged(path, OURS, READ)
    assert path.read_bytes() == READ
    assert alone(path)
