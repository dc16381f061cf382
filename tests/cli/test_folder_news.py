"""What the system tells of folders is a reason to look, and where it tells nothing there always is one."""

from __future__ import annotations

import ctypes
import sys
from pathlib import Path

import pytest

from introit.cli import folder_news
from introit.cli.folder_news import FolderNews
from introit.cli.repertoire import ANYWAY_SECONDS, POLL_SECONDS, Rereader
from introit.library.kinds import Stamp, stamp_of

ON_LINUX = pytest.mark.skipif(sys.platform != "linux", reason="inotify is Linux's")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with one file, two floors below one that is followed in its place while it is not there."""
    made = tmp_path / "patterns" / "tunes"
    made.mkdir(parents=True)
    (made / "one.yaml").write_text("title: One\n")
    return made


@ON_LINUX
def test_every_way_to_save_is_told_once(folder: Path) -> None:
    news = FolderNews()
    news.follow([folder])
    assert not news.come()
    one, other = folder / "one.yaml", folder / "other.yaml"
    ways = (
        lambda: one.write_text("title: Two\n"),
        lambda: other.write_text("title: Three\n"),
        lambda: other.replace(one),
        lambda: one.touch(),
        lambda: one.unlink(),
        lambda: folder.rmdir(),
    )
    for way in ways:
        way()
        assert [news.come(), news.come()] == [True, False]


@ON_LINUX
def test_reading_is_no_news(folder: Path) -> None:
    news = FolderNews()
    news.follow([folder])
    (folder / "one.yaml").read_text()
    assert sorted(folder.iterdir())
    assert not news.come()


@ON_LINUX
def test_a_folder_that_is_not_there_yet_is_told_by_the_one_above(tmp_path: Path) -> None:
    news = FolderNews()
    folder = tmp_path / "patterns" / "tunes"
    news.follow([folder])
    assert not news.come()
    folder.mkdir(parents=True)
    assert news.come()
    news.follow([folder])
    (folder / "new.yaml").write_text("title: New\n")
    assert news.come()


@pytest.mark.parametrize("trouble", ["no library", "no handle", "no watch left"])
def test_without_the_systems_help_there_is_always_a_reason(
    folder: Path, monkeypatch: pytest.MonkeyPatch, trouble: str
) -> None:
    class Refuses:
        def inotify_init1(self, _flags: int) -> int:
            return -1

    class HasNoWatchLeft(Refuses):
        def inotify_init1(self, flags: int) -> int:
            return int(ctypes.CDLL(None).inotify_init1(flags)) if sys.platform == "linux" else -1

        def inotify_add_watch(self, *_: object) -> int:
            return -1

    library = {"no library": None, "no handle": Refuses(), "no watch left": HasNoWatchLeft()}[trouble]
    monkeypatch.setattr(folder_news, "_system_library", lambda: library)
    news = FolderNews()
    news.follow([folder])
    assert [news.come(), news.come()] == [True, True]


class _Repertoire:
    """Counts how often somebody asks which files there are."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.asked = 0

    def folders(self) -> list[Path]:
        return [self._folder]

    def stamps(self) -> dict[str, Stamp | None]:
        self.asked += 1
        return {str(path): stamp_of(path) for path in self._folder.iterdir()}

    def is_lost(self, _path: Path) -> bool:
        return False


@ON_LINUX
def test_nothing_is_looked_at_while_nothing_happens_but_now_and_then(folder: Path) -> None:
    repertoire, seconds = _Repertoire(folder), [0.0]
    rereader = Rereader(repertoire, None, say=print, clock=lambda: seconds[0])  # type: ignore[arg-type]
    assert repertoire.asked == 1
    while seconds[0] < ANYWAY_SECONDS - 2 * POLL_SECONDS:
        seconds[0] += POLL_SECONDS
        rereader.tick(None)  # type: ignore[arg-type]
    assert repertoire.asked == 1
    for _ in range(3):
        seconds[0] += POLL_SECONDS
        rereader.tick(None)  # type: ignore[arg-type]
    assert repertoire.asked == 2
