from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from introit.errors import IntroitError
from introit.export import atomic
from introit.export.atomic import write_atomically


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_new_file_has_the_mode_that_open_would_give(tmp_path: Path) -> None:
    write_atomically(tmp_path / "a.mid", b"new")
    (tmp_path / "b.mid").write_bytes(b"plain")
    assert (tmp_path / "a.mid").read_bytes() == b"new"
    assert (tmp_path / "a.mid").stat().st_mode == (tmp_path / "b.mid").stat().st_mode


def test_an_old_file_is_replaced_and_keeps_its_mode(tmp_path: Path) -> None:
    target = tmp_path / "a.mid"
    target.write_bytes(b"old")
    target.chmod(0o640)
    write_atomically(target, b"new")
    assert target.read_bytes() == b"new"
    assert stat.S_IMODE(target.stat().st_mode) == 0o640
    assert names(tmp_path) == ["a.mid"]


def test_a_symbolic_link_is_followed(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    real, link = tmp_path / "real" / "a.mid", tmp_path / "link.mid"
    real.write_bytes(b"old")
    link.symlink_to(real)
    write_atomically(link, b"new")
    assert link.is_symlink()
    assert real.read_bytes() == b"new"


@pytest.mark.parametrize("place", ["nowhere/a.mid", "file/a.mid", "folder.mid", "loop.mid"])
def test_a_place_that_cannot_be_written_is_told_in_one_line(tmp_path: Path, place: str) -> None:
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "folder.mid").mkdir()
    (tmp_path / "loop.mid").symlink_to(tmp_path / "loop.mid")
    before = names(tmp_path)
    with pytest.raises(IntroitError, match="cannot be written: ") as told:
        write_atomically(tmp_path / place, b"new")
    assert place in str(told.value)
    assert "\n" not in str(told.value)
    assert names(tmp_path) == before


@pytest.mark.skipif(os.name == "nt", reason="Windows has no named pipes in folders")
def test_pipes_and_devices_are_not_replaced(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.mid")
    with pytest.raises(IntroitError, match=r"pipe\.mid cannot be written: it is not an ordinary file"):
        write_atomically(tmp_path / "pipe.mid", b"new")
    assert stat.S_ISFIFO((tmp_path / "pipe.mid").stat().st_mode)
    assert names(tmp_path) == ["pipe.mid"]


def test_a_failure_half_way_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "a.mid"
    target.write_bytes(b"old")

    def full_disk(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(atomic.os, "fsync", full_disk)
    with pytest.raises(IntroitError, match="cannot be written: No space left on device"):
        write_atomically(target, b"new")
    assert target.read_bytes() == b"old"
    assert names(tmp_path) == ["a.mid"]


@pytest.mark.skipif(os.name == "nt", reason="Windows has no umask")
def test_the_umask_is_left_as_it_was(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_atomically(tmp_path / "a.mid", b"new")
        assert os.umask(0o027) == 0o027
        assert stat.S_IMODE((tmp_path / "a.mid").stat().st_mode) == 0o640
    finally:
        os.umask(before)
