"""The evening's set file under edits: written whole, never over another's, the program's own left alone."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

from introit.cli import set_file
from introit.cli.content import find_set
from introit.cli.repertoire import Repertoire, Rereader
from introit.cli.set_file import NO_FILE, SetFile, StaleError
from introit.cli.stand_set import StandSet
from introit.errors import ContentError, IntroitError
from introit.library.content import HOME_VARIABLE, content_roots, program_root
from introit.library.loader import load_library
from introit.library.model import Library
from introit.library.set_editing import Change, EditError, Move

TUNES = """\
title: Tonight
tunes:
  # the opener
  - call: medium swing, Bb, starts on two
    title: Copper

  # - call: not tonight
  - call: jazz waltz, F, 152   # in three
    title: Quince
  - call: ballad, Db
    title: Lift
    tempo: 60
"""


MAJOR_ONLY = "back-door"


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library([program_root()])[0]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "tonight.yaml"
    path.write_text(TUNES, encoding="utf-8")
    return path


@pytest.fixture
def file(path: Path, library: Library) -> SetFile:
    return SetFile(path, lambda: library)


def test_an_edit_is_written_and_has_another_revision(file: SetFile, path: Path) -> None:
    before = file.read()
    after = file.edit(before.revision, Change(2, {"tempo": 72}))
    assert path.read_text(encoding="utf-8") == TUNES.replace("tempo: 60", "tempo: 72")
    assert after.revision != before.revision
    assert [tune.tempo for tune in after.tunes][2] == 72
    back = file.edit(after.revision, Change(2, {"tempo": 60}))
    assert back.revision == before.revision
    assert list(path.parent.iterdir()) == [path]


def test_a_hand_edit_is_never_written_over_and_is_told(file: SetFile, path: Path) -> None:
    seen = file.read().revision
    by_hand = TUNES.replace("tempo: 60", "tempo: 66").replace("title: Quince", "title: Apple")
    path.write_text(by_hand, encoding="utf-8")
    with pytest.raises(StaleError, match="in its file") as stale:
        file.edit(seen, Move(0, 2))
    assert "“Lift” goes at 66 now" in str(stale.value)
    assert path.read_text(encoding="utf-8") == by_hand


def test_another_pages_edit_is_told(file: SetFile) -> None:
    seen = file.read().revision
    file.edit(seen, Move(2, 0))
    with pytest.raises(StaleError, match=r"on another page.*“Lift” is number 1 now"):
        file.edit(seen, Change(0, {"key": "C"}))


def test_who_saves_at_the_last_moment_wins(
    file: SetFile, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = set_file.replace_unchanged

    def late(target: Path, data: bytes, expected: bytes) -> None:
        path.write_text(TUNES + "# mine\n", encoding="utf-8")
        whole(target, data, expected)

    monkeypatch.setattr(set_file, "replace_unchanged", late)
    with pytest.raises(StaleError, match="in its file"):
        file.edit(file.read().revision, Move(0, 1))
    assert path.read_text(encoding="utf-8") == TUNES + "# mine\n"
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.skipif(sys.platform != "linux", reason="Linux tells whether a file is open for writing")
def test_while_somebody_is_writing_it_nothing_is_changed(file: SetFile, path: Path) -> None:
    revision = file.read().revision
    with path.open("a", encoding="utf-8"), pytest.raises(StaleError, match=r"just being written.*again"):
        file.edit(revision, Move(0, 1))
    assert path.read_text(encoding="utf-8") == TUNES
    file.edit(revision, Move(0, 1))


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"key": "H"}, "a key is a note name"),
        ({"tempo": 900}, "30 to 400"),
        ({"intro": "no-such-intro"}, "no intro"),
        ({"landing": "bang"}, "is no landing"),
        ({"intro": MAJOR_ONLY, "key": "C minor"}, "has no minor form"),
    ],
)
def test_a_mistake_is_told_by_its_place_and_nothing_is_written(
    file: SetFile, path: Path, values: dict[str, Any], words: str
) -> None:
    with pytest.raises(ContentError, match=words) as wrong:
        file.edit(file.read().revision, Change(2, values))
    assert all(problem.line >= 10 and problem.column for problem in wrong.value.problems)
    assert all(problem.path == str(path) for problem in wrong.value.problems)
    assert path.read_text(encoding="utf-8") == TUNES


def test_a_link_is_followed_and_a_mode_kept(path: Path, library: Library, tmp_path: Path) -> None:
    path.chmod(0o640)
    there = tmp_path / "link.yaml"
    there.symlink_to(path)
    file = SetFile(there, lambda: library)
    file.edit(file.read().revision, Move(0, 1))
    assert there.is_symlink()
    assert path.read_text(encoding="utf-8").index("Quince") < path.read_text(encoding="utf-8").index("Copper")
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_byte_order_mark_and_line_ends_stay(path: Path, file: SetFile) -> None:
    path.write_bytes(b"\xef\xbb\xbf" + TUNES.replace("\n", "\r\n").encode())
    file.edit(file.read().revision, Change(2, {"tempo": 72}))
    wanted = TUNES.replace("\n", "\r\n").replace("tempo: 60", "tempo: 72").encode()
    assert path.read_bytes() == b"\xef\xbb\xbf" + wanted


def test_an_entry_with_a_mistake_keeps_its_place_and_the_others_theirs(path: Path, file: SetFile) -> None:
    bad = TUNES.replace("jazz waltz, F, 152   # in three", "jazz waltz, 152")
    path.write_text(bad, encoding="utf-8")
    reading = file.read()
    assert reading.places == (0, 2)
    assert [tune.title for tune in reading.tunes] == ["Copper", "Lift"]
    file.edit(reading.revision, Change(1, {"tempo": 72}))
    assert path.read_text(encoding="utf-8") == bad.replace("tempo: 60", "tempo: 72")
    after = file.edit(file.read().revision, Move(1, 0))
    assert [tune.title for tune in after.tunes] == ["Lift", "Copper"]
    with pytest.raises(EditError):
        file.edit(after.revision, Move(2, 0))


def test_what_cannot_be_written_is_said(path: Path, file: SetFile) -> None:
    revision = file.read().revision
    path.unlink()
    with pytest.raises(IntroitError, match="cannot be read"):
        file.edit(revision, Move(0, 1))


def test_a_full_disk_is_said_and_nothing_is_lost(
    path: Path, file: SetFile, monkeypatch: pytest.MonkeyPatch
) -> None:
    revision = file.read().revision

    def full(*_: Any, **__: Any) -> Any:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("tempfile.mkstemp", full)
    with pytest.raises(IntroitError, match="No space left"):
        file.edit(revision, Move(0, 1))
    monkeypatch.setattr("tempfile.TemporaryDirectory", full)
    with pytest.raises(IntroitError, match="No space left"):
        file.edit(revision, Move(0, 1))
    assert path.read_text(encoding="utf-8") == TUNES


# --- as the page has it -----------------------------------------------------------------------------


class Quiet:
    """Stands in for the front and the desk."""

    def renew(self, answers: Any) -> None:
        list(answers)

    def take(self, tunes: Any, library: Any, *, say: Any) -> Any:
        return iter(())


class Page:
    """A stand's set over a repertoire."""

    def __init__(self, name: str, library: Library) -> None:
        self.said: list[str] = []
        tunes = find_set(library, name).tunes
        self.repertoire = Repertoire(name, library, tunes, roots=content_roots())
        self.rereader = Rereader(self.repertoire, Quiet(), say=self.said.append)
        rig = library.rigs["default"]
        self.set = StandSet(self.repertoire, self.rereader, rig, self.said.append)

    def edit(self, edit: Any, revision: str | None = None) -> dict[str, Any]:
        seen = self.set.told()["revision"] if revision is None else revision
        return self.set.do({"revision": seen, "edit": edit}, Quiet())

    def titles(self) -> list[str]:
        return [tune["title"] for tune in self.set.told()["tunes"]]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "home"))
    return tmp_path / "home"


def test_tunes_keep_the_players_index_while_they_are_moved(path: Path, home: Path, library: Library) -> None:
    page = Page(str(path), library)
    answer = page.edit({"move": 2, "to": 0})
    assert answer == {"ok": True, "revision": page.set.told()["revision"]}
    assert page.titles() == ["Lift", "Copper", "Quince"]
    assert [tune["tune"] for tune in page.set.told()["tunes"]] == [2, 0, 1]
    assert page.edit({"change": 2, "tempo": 72})["ok"] is True
    assert page.set.told()["tunes"][0]["tempo"] == 72
    assert page.set.told()["tunes"][0]["says"] == {"tempo": "72"}
    assert page.edit({"move": 2, "to": 2})["ok"] is True
    assert page.edit({"change": 2, "tempo": 60})["ok"] is True
    # The last of them has no line of its own below it that stays: only the order of the text's lines counts.
    assert path.read_text(encoding="utf-8") == TUNES
    assert any("“Lift” goes to place 1; written to tonight.yaml" in line for line in page.said)


def test_a_stale_edit_is_refused_and_the_new_list_is_there_at_once(
    path: Path, home: Path, library: Library
) -> None:
    page = Page(str(path), library)
    seen = page.set.told()["revision"]
    path.write_text(TUNES.replace("ballad, Db", "ballad, Eb"), encoding="utf-8")
    answer = page.edit({"move": 0, "to": 1}, seen)
    assert (answer["ok"], answer["stale"]) == (False, True)
    assert "“Lift” is in Eb now" in answer["error"]
    assert page.set.told()["tunes"][2]["key"] == "Eb"
    assert page.edit({"move": 0, "to": 1})["ok"] is True


def test_a_file_that_somebody_is_breaking_is_not_changed(path: Path, home: Path, library: Library) -> None:
    page = Page(str(path), library)
    path.write_text(TUNES.replace("ballad, Db", "ballad, Q"), encoding="utf-8")
    told = page.set.told()
    assert told["revision"] == ""
    assert told["why"].startswith("Line 10, column ")
    assert page.titles() == ["Copper", "Quince", "Lift"]
    assert page.edit({"move": 0, "to": 1})["ok"] is False


def test_the_programs_set_is_copied_and_played_on_from_the_copy(home: Path, library: Library) -> None:
    home.mkdir()
    page = Page("demo", library)
    programs = program_root() / "config/sets/demo.yaml"
    before = programs.read_bytes()
    assert page.edit({"move": 0, "to": 1})["ok"] is True
    assert programs.read_bytes() == before
    own = home / "config/sets/demo.yaml"
    assert own.is_file()
    assert page.repertoire.file == own
    assert any(str(own) in line and "stays as it is" in line for line in page.said)
    first = page.titles()
    assert page.edit({"move": 0, "to": 0})["ok"] is True
    assert page.titles() != first
    own.write_text(own.read_text(encoding="utf-8").replace("Quince and", "Apple and"), encoding="utf-8")
    page.rereader.take_file(own, Quiet())
    assert any("Apple" in title for title in page.titles())
    assert Page("demo", load_library(content_roots())[0]).titles() == page.titles()


def test_a_users_file_of_that_name_is_never_written_over(home: Path, library: Library) -> None:
    own = home / "config/sets/demo.yaml"
    own.parent.mkdir(parents=True)
    own.write_text(TUNES, encoding="utf-8")
    page = Page(str(program_root() / "config/sets/demo.yaml"), library)
    answer = page.edit({"move": 0, "to": 1})
    assert answer["ok"] is False
    assert "use that one" in answer["error"]
    assert own.read_text(encoding="utf-8") == TUNES


@pytest.mark.parametrize("name", ["medium swing, Bb, starts on two", "late-bus-to-orrin"])
def test_an_evening_without_a_set_file_says_so(name: str, home: Path, library: Library) -> None:
    page = Page(name, library)
    assert page.set.told()["revision"] == ""
    assert page.set.told()["why"] == NO_FILE
    assert page.edit({"move": 0, "to": 0}) == {"ok": False, "stale": False, "error": NO_FILE}


def test_a_tune_file_is_no_set(home: Path, library: Library) -> None:
    page = Page(str(program_root() / "patterns/tunes/late-bus-to-orrin.yaml"), library)
    assert page.set.told()["why"] == NO_FILE


def test_what_a_tune_may_be_given(path: Path, home: Path, library: Library) -> None:
    page = Page(str(path), library)
    offer = page.edit({"offer": 1})["offer"]
    ids = [intro["id"] for intro in offer["intros"]]
    assert ids
    for name in ids[:3]:
        assert page.edit({"change": 1, "intro": name})["ok"] is True
    assert page.edit({"offer": 9})["ok"] is False
    assert page.edit({"offer": True})["ok"] is False
    choices = page.set.told()["choices"]
    for key in choices["keys"][:12]:
        assert page.edit({"change": 2, "key": key})["ok"] is True
    for landing in choices["landings"]:
        assert page.edit({"change": 2, "landing": landing})["ok"] is True
    for tempo in choices["tempo"]:
        assert page.edit({"change": 2, "tempo": tempo})["ok"] is True


def test_nothing_that_is_sent_raises(path: Path, home: Path, library: Library) -> None:
    page = Page(str(path), library)
    for edit in (
        None,
        [],
        {},
        {"move": "x"},
        {"change": 99, "key": "F"},
        {"offer": None},
        {"move": 0, "to": 99},
    ):
        assert page.edit(edit)["ok"] is False
    assert page.edit({"move": 0, "to": 99})["ok"] is False
    assert page.set.do({}, Quiet())["ok"] is False
    assert path.read_text(encoding="utf-8") == TUNES
    assert list(path.parent.iterdir()) == [path]
