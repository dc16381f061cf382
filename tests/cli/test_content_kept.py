"""Where a command keeps what it read: in the user's place, whole or not at all, in nobody's way."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from introit.cli.content import Content, open_library
from introit.cli.main import run
from introit.errors import IntroitError
from introit.library.content import HOME_VARIABLE, cache_file, content_roots

TUNE = "title: Copper Lamp\nkey: Bb\nfeel: medium-swing\n"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user's own folder with one tune, saved an hour ago."""
    path = tmp_path / "patterns" / "tunes" / "copper-lamp.yaml"
    path.parent.mkdir(parents=True)
    path.write_text(TUNE)
    then = path.stat().st_mtime - 3600
    os.utime(path, (then, then))
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path))
    return tmp_path


def test_it_lies_in_the_users_folder_and_serves_the_next_command(home: Path) -> None:
    first = open_library()
    kept = cache_file()
    assert kept.parent == home / "cache"
    written = kept.stat()
    assert open_library() == first
    assert kept.stat() == written  # nothing was read that it did not hold
    assert [path.name for path in kept.parent.iterdir()] == [kept.name]


def test_it_lies_where_the_system_keeps_caches(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(HOME_VARIABLE, raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))  # XDG base directory specification, on Linux
    one, other = (cache_file(package=tmp_path / name) for name in ("one", "other"))
    assert one.parent.name == "introit"
    assert one != other  # two installations
    if sys.platform == "linux":
        assert one.parent.parent == tmp_path


def test_a_folder_of_the_users_that_is_not_there_is_not_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "mistyped"))
    assert open_library().intros
    assert not (tmp_path / "mistyped").exists()


@pytest.mark.parametrize("trouble", ["a file for the folder", "a folder for the file", "no space"])
def test_what_cannot_be_written_is_read_again(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], trouble: str
) -> None:
    if trouble == "a file for the folder":
        (home / "cache").write_text("mine")
    elif trouble == "a folder for the file":
        cache_file().mkdir(parents=True)
    else:

        def full(path: Path, data: bytes) -> None:
            raise IntroitError(f"{path} cannot be written: No space left on device")

        monkeypatch.setattr("introit.cli.content.write_atomically", full)
    for _ in range(2):
        assert run(["tunes"]) == 0
        said = capsys.readouterr()
        assert "Copper Lamp" in said.out
        assert said.err == ""


def test_a_check_reads_the_files_whatever_was_kept(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tune = home / "patterns" / "tunes" / "copper-lamp.yaml"
    open_library()
    before = tune.stat()
    tune.write_text(TUNE.replace("Bb", "H "))  # behind the cache's back: the same length, time and place
    os.utime(tune, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert open_library().tunes["copper-lamp"]
    assert run(["check"]) == 1
    assert "copper-lamp.yaml:2:6" in capsys.readouterr().out


def test_two_commands_at_once_leave_a_whole_one(home: Path) -> None:
    command = [sys.executable, "-m", "introit", "tunes", "--json"]
    together = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(3)]
    said = {one.communicate(timeout=60) for one in together}
    assert [one.returncode for one in together] == [0, 0, 0]
    assert len(said) == 1
    assert said.pop()[1] == b""
    assert [path.name for path in (home / "cache").iterdir()] == [cache_file().name]
    written = cache_file().read_bytes()
    open_library()
    assert cache_file().read_bytes() == written


def test_two_that_write_in_turns_each_leave_what_is_right(home: Path) -> None:
    one, other = (Content(content_roots(), cache_file()) for _ in range(2))
    named = home / "set.yaml"
    named.write_text("title: Friday\ntunes:\n  - tune: copper-lamp\n")
    other.read(named, other.library)
    other.keep()
    one.keep()
    third = Content(content_roots(), cache_file())
    assert (third.library, third.problems) == (one.library, one.problems)
