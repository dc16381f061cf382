"""`introit write` as a user meets it: every format, many at once, and what cannot be written."""

from __future__ import annotations

import errno
import importlib
import json
import os
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import mido
import pytest

from introit.cli.main import run
from introit.cli.written import Wanted, file_name
from introit.export import engraving, page
from introit.export.formats import FORMATS
from introit.library.content import HOME_VARIABLE
from introit.library.model import Library
from introit.library.tune import Tune
from introit.theory.key import Key, Mode, keys
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

ON_PAPER = ("musicxml", "mxl", "pdf", "svg", "png")
SILENT = ("mid", *ON_PAPER)
"""All that need no synthesizer; sound is in test_write_sound.py."""


class Told:
    """What the command said."""

    def __init__(self, capsys: pytest.CaptureFixture[str]) -> None:
        self._capsys = capsys

    def __call__(self, *words: str) -> tuple[int, str, str]:
        code = run(["write", *words])
        out, error = self._capsys.readouterr()
        return code, out, error

    def refused(self, *words: str, code: int = 2) -> str:
        """The one line of an error."""
        given, out, error = self(*words)
        assert (given, out) == (code, ""), error
        assert error.startswith("introit: ")
        assert error.count("\n") == 1
        return error


@pytest.fixture
def write(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Told:
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "home"))
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    return Told(capsys)


def names(folder: Path | str = ".") -> list[str]:
    return sorted(path.name for path in Path(folder).iterdir())


def set_file(*titles: str, **more: object) -> str:
    """A set with such tunes; JSON is YAML."""
    tunes = [
        {"title": title, "key": "Bb", "feel": "medium-swing", "intro": "back-door", **more}
        for title in titles
    ]
    path = Path("..", "a-set.yaml")
    path.write_text(json.dumps({"title": "A set", "tunes": tunes}), encoding="utf-8")
    return str(path)


# --- what it writes ---------------------------------------------------------------------------------


def test_each_format_is_what_its_ending_says(write: Told) -> None:
    for ending in SILENT:
        code, out, error = write("back-door", "-o", f"x.{ending}")
        assert (code, error) == (0, "")
        who = "solo guitar" if ending in ON_PAPER else "with keys"
        assert out == f"x.{ending}: In by the back door in C, {who}, 140, 4/4, 4 bars to the head\n"
    assert names() == sorted(f"x.{ending}" for ending in SILENT)
    assert mido.MidiFile("x.mid").type == 1
    root = ElementTree.parse("x.musicxml").getroot()
    assert (root.tag, root.get("version")) == ("score-partwise", "4.0")
    with zipfile.ZipFile("x.mxl") as archive:
        # MusicXML 4.0, "Compressed .mxl files": the container names the root file.
        container = ElementTree.fromstring(archive.read("META-INF/container.xml"))
        named = next(container.iter("rootfile")).get("full-path")
        assert archive.read(str(named)) == Path("x.musicxml").read_bytes()
    assert Path("x.pdf").read_bytes().startswith(b"%PDF-")  # ISO 32000-1, 7.5.2
    assert ElementTree.parse("x.svg").getroot().tag == "{http://www.w3.org/2000/svg}svg"
    assert Path("x.png").read_bytes().startswith(b"\x89PNG\r\n\x1a\n")  # PNG, 5.2


def test_who_plays_is_said_by_the_command_the_tune_the_rig_or_the_kind_of_file(write: Told) -> None:
    """What is read is a guitarist's, and what is written with it is the same playing."""

    def players(path: str) -> list[str | None]:
        return [part.text for part in ElementTree.parse(path).getroot().iter("part-name")]

    rig = Path("..", "a-rig.yaml")
    rig.write_text(
        "name: Trio\nline_up: trio\nports:\n  main: {system: auto, to: any}\n"
        "parts:\n  comp: {port: main, channel: 2}\n",
        encoding="utf-8",
    )
    for more, expected in (
        ((), ["Guitar"]),
        (("--line-up", "with keys"), ["Guitar", "Keys", "Bass"]),
        (("--rig", str(rig)), ["Guitar", "Bass"]),
    ):
        assert write("back-door", *more, "-o", "x.musicxml")[0] == 0
        assert players("x.musicxml") == expected
    assert write("one-voice-walks-down", "-o", "y.musicxml")[0] == 0
    for title, more, expected in (
        ("Slow Water", {}, ["Guitar"]),
        ("Last Train", {"line_up": "with keys"}, ["Guitar", "Keys", "Bass"]),
    ):
        assert write("--set", set_file(title, **more), "-o", "z.musicxml")[0] == 0
        assert players("z.musicxml") == expected
    assert write("back-door", "-o", "alone.mid")[0] == 0
    assert write("back-door", "--line-up", "solo guitar", "-o", "guitar.mid")[0] == 0
    assert write("back-door", "-o", ".", "--as", "mid", "--as", "musicxml")[0] == 0
    together = Path("back-door-C.mid").read_bytes()
    assert together == Path("guitar.mid").read_bytes()
    assert together != Path("alone.mid").read_bytes()


@pytest.mark.parametrize("ending", SILENT)
def test_the_same_again_is_the_same_bytes(write: Told, ending: str) -> None:
    for name in ("one", "two"):
        assert write("waltz-riff", "--line-up", "solo guitar", "-o", f"{name}.{ending}")[0] == 0
    if ending == "pdf":  # which may tell when it was made
        assert b"CreationDate" not in Path("one.pdf").read_bytes()
    one, two = (Path(f"{name}.{ending}").read_bytes() for name in ("one", "two"))
    assert one == two


def test_twelve_keys_are_twelve_files(write: Told) -> None:
    code, out, _ = write("back-door", "--all-keys", "-o", "keys", "--as", "musicxml")
    assert (code, out) == (0, "keys: 12 files\n")
    assert names("keys") == sorted(f"back-door-{key}.musicxml" for key in keys(Mode.MAJOR))
    signs = [int(ElementTree.parse(path).findtext(".//fifths", "")) for path in Path("keys").iterdir()]
    assert len({fifths % 12 for fifths in signs}) == 12
    assert all(-6 <= fifths <= 6 for fifths in signs)


def test_a_set_goes_into_a_folder_in_its_order(write: Told) -> None:
    chosen = set_file("Slow Water", "Last Train but One")
    code, out, _ = write("--set", chosen, "-o", "folder/of mine", "--as", "mid", "--as", "pdf", "--as", "PDF")
    assert (code, out) == (0, f"{Path('folder/of mine')}: 4 files\n")
    assert names("folder/of mine") == [
        "1-slow-water-Bb.mid",
        "1-slow-water-Bb.pdf",
        "2-last-train-but-one-Bb.mid",
        "2-last-train-but-one-Bb.pdf",
    ]


def test_a_set_of_one_tune_is_one_file(write: Told) -> None:
    assert write("--set", set_file("Slow Water"))[:2] == (
        0,
        "slow-water-Bb.mid: In by the back door in Bb, with keys, 140, 4/4, 4 bars to the head\n",
    )


def test_the_library_takes_what_has_all_that_is_asked_for(write: Told, library: Library) -> None:
    assert write("--library", "-o", "all", "--as", "mid")[0] == 0
    assert len(names("all")) == len(library.intros)
    assert (
        write("--library", "--feel", "bossa", "--line-up", "solo guitar", "-o", "some", "--as", "mid")[0] == 0
    )
    bossa = library.feels["bossa"]
    for name in names("some"):
        intro = library.intros[name.rpartition("-C")[0]]
        assert intro.meters[0] in bossa.meters
        assert "solo guitar" in intro.line_ups
    assert 10 < len(names("some")) < len(library.intros)
    assert "no intro" in write.refused("--library", "--tempo", "399", "-o", "none", "--as", "mid")
    assert not Path("none").exists()


def test_a_rigs_guitar_is_written_for(write: Told) -> None:
    Path("rig.yaml").write_text(
        "name: Capo\nline_up: solo guitar\nports:\n  main: {system: auto, to: any}\n"
        "parts:\n  comp: {port: main, channel: 1}\nguitar: {capo: 3}\n",
        encoding="utf-8",
    )
    assert write("back-door", "--rig", "rig.yaml", "-o", "x.musicxml")[0] == 0
    root = ElementTree.parse("x.musicxml").getroot()
    assert root.findtext(".//staff-details/capo") == "3"
    assert [part.text for part in root.iter("part-name")] == ["Guitar"]


def test_a_long_intro_takes_more_than_one_picture(write: Told, tmp_path: Path) -> None:
    harmony = "\n".join("      Imaj7 VI7 | ii7 V7" for _ in range(20))
    intros = tmp_path / "home" / "patterns" / "intros"
    intros.mkdir(parents=True)
    (intros / "long-road.yaml").write_text(
        "name: A long road\ntempo: [50, 300]\nmeters: [4/4]\nfeels: [medium-swing]\ntexture: block\n"
        f"forms:\n  - mode: major\n    leads_to: I\n    harmony: |\n{harmony}\nwhy: It goes on.\n",
        encoding="utf-8",
    )
    code, out, _ = write("long-road", "-o", "x.svg")
    assert code == 0
    pages = len(names())
    assert pages > 1
    assert names() == [f"x-{number}.svg" for number in range(1, pages + 1)]
    assert [line.partition(":")[0] for line in out.splitlines()] == names()
    assert write("back-door", "-o", "y.svg")[0] == 0
    assert "y.svg" in names()


# --- file names -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "title",
    [
        "../../etc/passwd",
        "/absolute",
        "..",
        "C:\\temp\\x",
        "a\tb\u202e\u200bc",
        "CON",
        '<b>&"quoted"</b> $x$ *star* `code` #let',
        "?",
        "  ",
        "終電前" * 60,
        "\U00010330" * 90,
        "e\u0301tude No. 3",
    ],
)
def test_a_title_is_no_path(title: str, tmp_path: Path, library: Library) -> None:
    tune = Tune(
        "t", title, Key.from_text("C# minor"), Meter.from_text("4/4"), 120, "ballad", Numeral.from_text("i")
    )
    wanted = Wanted(library.intros["one-bar"], tune, tune.key, title, True)
    name = file_name(wanted, ".musicxml", number="01")
    assert len(name.encode()) <= 200  # most file systems take 255 (POSIX NAME_MAX is at least 14)
    assert not set(name) & set('<>:"/\\|?*\0')  # what Windows forbids in names
    assert name.isprintable()
    assert name.endswith("C#-minor.musicxml")
    assert name.startswith("01-")
    (tmp_path / name).write_bytes(b"")
    assert names(tmp_path) == [name]


def test_markup_in_a_title_is_text_in_every_format(write: Told) -> None:
    title = '<b>&amp; "x" *y* _z_ #let $a$ @b `c` \\ ~'
    chosen = set_file(title)
    for ending in ON_PAPER:
        assert write("--set", chosen, "-o", f"x.{ending}")[0] == 0
    assert f"Intro to {title}" == ElementTree.parse("x.musicxml").findtext("movement-title")
    pypdf = pytest.importorskip("pypdf")
    words = pypdf.PdfReader("x.pdf").pages[0].extract_text()
    assert f"Intro to {title}".replace(" ", "") in words.replace(" ", "").replace("\n", "")


# --- what cannot be written -------------------------------------------------------------------------


def test_what_cannot_be_written_is_said_first(write: Told) -> None:
    Path("a-file").write_text("mine", encoding="utf-8")
    Path("a-folder").mkdir()
    Path("a-folder.pdf").mkdir()
    before = names()
    allowed = ", ".join(FORMATS)
    assert f"x.doc: the file ends in '.doc'; allowed are {allowed}" in write.refused(
        "back-door", "-o", "x.doc"
    )
    assert "Did you mean '.pdf'?" in write.refused("back-door", "-o", "x.pfd")
    assert "has no ending" in write.refused("back-door", "-o", "x")
    assert "nowhere is not there" in write.refused("back-door", "-o", "nowhere/x.pdf", code=1)
    assert "a-file is no folder" in write.refused("back-door", "-o", "a-file/x.pdf", code=1)
    assert "a-file is a file" in write.refused("back-door", "--all-keys", "-o", "a-file", "--as", "pdf")
    assert "a-file/more cannot be made" in write.refused(
        "back-door", "-o", "a-file/more", "--as", "mid", code=1
    )
    assert "only into .pdf" in write.refused("back-door", "--all-keys", "-o", "x.svg")
    assert "--as goes with a folder" in write.refused("back-door", "-o", "x.pdf", "--as", "svg")
    assert "a-folder.pdf is a folder" in write.refused("back-door", "-o", "a-folder.pdf")
    assert names("a-folder.pdf") == []
    assert "--as doc: no such format" in write.refused("back-door", "-o", "a-folder", "--as", "doc")
    assert "no minor form" in write.refused("back-door", "--key", "C minor", "-o", "x.pdf", code=1)
    assert "do not go together" in write.refused("back-door", "--key", "C", "--all-keys")
    assert "one of INTRO, --set and --library" in write.refused("-o", "x.pdf")
    assert "INTRO and --set are given" in write.refused("back-door", "--set", "demo")
    assert "--tempo cannot be given with --set" in write.refused("--set", "demo", "--tempo", "90")
    assert "'letter'" in write.refused("back-door", "-o", "x.pdf", "--paper", "a5")
    assert names() == before
    assert Path("a-file").read_text(encoding="utf-8") == "mine"


def test_a_set_in_a_key_that_one_tune_cannot_have_leaves_nothing(write: Told) -> None:
    error = write.refused("--set", set_file("One", "Two"), "--key", "C minor", "-o", "x", "--as", "mid")
    assert "One: intro 'back-door' has no minor form" in error
    assert names() == []


def test_a_full_disk_leaves_what_was_there(write: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    for ending in SILENT:
        path = Path(f"x.{ending}")
        path.write_text("before", encoding="utf-8")
        error = write.refused("back-door", "-o", str(path), code=1)
        assert error == f"introit: {path} cannot be written: No space left on device\n"
        assert path.read_text(encoding="utf-8") == "before"
    assert names() == sorted(f"x.{ending}" for ending in SILENT)


@pytest.mark.skipif(
    sys.platform == "win32", reason="a folder that nobody may write into is a matter of POSIX"
)
def test_a_folder_that_is_closed_is_said(write: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    if os.geteuid() == 0:  # to whom no folder is closed

        def closed(*_: object, **__: object) -> None:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

        monkeypatch.setattr("introit.export.atomic.tempfile.mkstemp", closed)
    Path("closed").mkdir(mode=0o500)
    assert "cannot be written: Permission denied" in write.refused("back-door", "-o", "closed/x.pdf", code=1)


@pytest.mark.parametrize("package", ["verovio", "typst"])
def test_what_is_not_installed_is_said_with_how_to_get_it(
    write: Told, monkeypatch: pytest.MonkeyPatch, package: str
) -> None:
    engraving._verovio.cache_clear()
    monkeypatch.setitem(sys.modules, package, None)
    for words in (["back-door", "-o", "x.pdf"], ["--library", "-o", "x.pdf"]):
        error = write.refused(*words, code=1)
        assert f"{package.capitalize()} is not installed" in error
        assert "pip install '.[sheet]'" in error
    assert names() == []
    assert write("back-door", "-o", "x.musicxml")[0] == 0  # which needs neither


def test_what_the_typesetter_refuses_is_one_line(write: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(page.PAPERS, "a4", "no-such-paper")
    assert "the page cannot be set" in write.refused("back-door", "-o", "x.pdf", code=1)
    assert names() == []


# --- in the midst of it -----------------------------------------------------------------------------


@pytest.mark.parametrize("where", [["-o", "keys", "--as", "mid", "--as", "pdf"], ["-o", "keys.pdf"]])
def test_an_interrupt_leaves_whole_files_alone(
    write: Told, monkeypatch: pytest.MonkeyPatch, where: list[str]
) -> None:
    module = importlib.import_module("introit.cli.commands.write")
    real: Callable[..., object] = module.piece_of
    calls = iter(range(100))

    def interrupted(*given: object, **named: object) -> object:
        if next(calls) == 3:
            raise KeyboardInterrupt
        return real(*given, **named)

    monkeypatch.setattr(module, "piece_of", interrupted)
    code, out, error = write("back-door", "--all-keys", *where)
    assert (code, out, error) == (130, "", "")
    assert names() == (["keys"] if "--as" in where else [])
    if "--as" in where:
        assert [Path(name).suffix for name in names("keys")] == [".mid", ".pdf"] * 3
        for name in names("keys"):
            if name.endswith(".mid"):
                mido.MidiFile(str(Path("keys", name)))


def test_progress_is_shown_on_a_terminal_and_ctrl_c_ends_it(
    start: Callable[..., Any], tmp_path: Path
) -> None:
    out = tmp_path / "all.pdf"
    stand = start("-m", "introit", "write", "--library", "--all-keys", "-o", str(out))
    stand.until("writing")
    stand.until("1%")
    stand.strike(b"\x03")
    assert stand.process.wait(20) == 130
    assert list(tmp_path.iterdir()) == []


def test_without_a_terminal_there_is_no_bar(write: Told) -> None:
    code, _, error = write("back-door", "--all-keys", "-o", "keys", "--as", "mid")
    assert (code, error) == (0, "")
