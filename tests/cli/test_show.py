"""`introit show` as a player meets it: what is drawn, how wide, with which signs, and what programs get."""

from __future__ import annotations

import io
import json
import re
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from introit.cli.main import run as call
from introit.library.model import Library

INTRO = "three-six-two-five"
TAB = re.compile(r"^e\|", re.MULTILINE)
BOX = "╤"
Show = Callable[..., str]


@pytest.fixture
def show(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Show:
    monkeypatch.delenv("COLUMNS", raising=False)

    def run(*arguments: str) -> str:
        assert call(["show", *arguments]) == 0
        return capsys.readouterr().out

    return run


def test_tab_and_diagrams_are_drawn_and_the_roll_is_asked_for(show: Show) -> None:
    plain = show(INTRO, "--key", "Eb")
    assert TAB.search(plain)
    assert BOX in plain
    assert "solo guitar" in plain
    assert "M melody" not in plain
    assert "M melody" in show(INTRO, "--key", "Eb", "--roll")
    assert not TAB.search(show(INTRO, "--no-tab"))
    assert BOX not in show(INTRO, "--no-diagrams")


def test_why_says_where_chords_come_from_and_what_to_hear(show: Show) -> None:
    """The guide tones of a two-five: C7 in F; wording ours."""
    text = " ".join(show(INTRO, "--key", "Eb", "--why").split())
    assert "borrowed from F minor, where it is the five" in text
    assert "hear E (third) fall a half step to Eb (seventh)" in text
    assert "hear E (third)" not in " ".join(show(INTRO, "--key", "Eb").split())
    rows = json.loads(show(INTRO, "--key", "Eb", "--json"))["chords"]
    assert all(row["lesson"] for row in rows)


def test_comping_on_keys_has_no_tab_and_says_so(show: Show) -> None:
    text = show(INTRO, "--line-up", "with keys")
    assert not TAB.search(text)
    assert BOX not in text
    assert "--line-up 'solo guitar'" in text


def test_an_intro_that_is_none_for_one_guitar_is_drawn_for_another_line_up(
    show: Show, library: Library
) -> None:
    others = [intro for intro in library.intros.values() if "solo guitar" not in intro.line_ups]
    assert others
    text = show(others[0].id)
    assert "with bass: what the guitar comps" in text
    assert TAB.search(text)


def test_every_intro_fits_in_80_columns_in_the_keys_with_the_longest_names(
    show: Show,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert call(["intros", "--json"]) == 0
    for row in json.loads(capsys.readouterr().out):
        for key in ("Gb",) if "major" in row["modes"] else ("C# minor", "Ab minor"):
            text = show(row["id"], "--key", key, "--roll", "--why")
            assert all(len(line) <= 80 for line in text.split("\n")), (row["id"], key)


def test_a_wide_terminal_is_used_and_a_narrow_one_is_taken_for_80(
    show: Show,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    usual = show(INTRO, "--key", "Eb")
    monkeypatch.setenv("COLUMNS", "40")
    assert show(INTRO, "--key", "Eb") == usual
    monkeypatch.setenv("COLUMNS", "150")
    assert max(map(len, show(INTRO, "--key", "Eb").split("\n"))) > 80


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_an_old_terminal_gets_typed_signs(monkeypatch: pytest.MonkeyPatch, encoding: str) -> None:
    page = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    monkeypatch.setattr(sys, "stdout", page)
    assert call(["show", "two-bars-two-five", "--key", "C# minor", "--roll", "--why"]) == 0
    page.flush()
    text = page.buffer.getvalue().decode("ascii")  # type: ignore[attr-defined]
    assert "+-+-+-+-+-+" in text or "=====" in text
    assert "iim7b5" in text


def test_programs_get_what_is_drawn(show: Show) -> None:
    shown = json.loads(show(INTRO, "--key", "Eb", "--json"))
    assert shown["line_up"] == "solo guitar"
    assert shown["strings"] == [40, 45, 50, 55, 59, 64]
    assert {"bar", "beat", "beats", "part", "pitch", "string", "fret", "finger"} == set(shown["tab"][0])
    for note in shown["tab"]:
        assert note["pitch"] == shown["strings"][6 - note["string"]] + note["fret"]
    for diagram in shown["diagrams"]:
        assert diagram["symbol"] in {row["symbol"] for row in shown["chords"]}
        assert len(diagram["dots"]) + len(diagram["open_strings"]) + len(diagram["muted"]) == 6


def test_a_rigs_guitar_is_the_one_that_is_drawn(show: Show, tmp_path: Path) -> None:
    text = show(INTRO, "--json")
    assert json.loads(text)["capo"] == 0
    rig = tmp_path / "capo.yaml"
    rig.write_text(
        "name: Capo\nports:\n  main: {system: auto, to: any}\n"
        "parts:\n  comp: {port: main, channel: 1}\nguitar: {capo: 2}\n",
        encoding="utf-8",
    )
    shown = json.loads(show(INTRO, "--rig", str(rig), "--json"))
    assert shown["capo"] == 2
    for note in shown["tab"]:
        assert note["pitch"] == shown["strings"][6 - note["string"]] + 2 + note["fret"]
    assert "capo at fret 2, frets counted from it" in show(INTRO, "--rig", str(rig))


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--rig", "no-such-rig"], "no rig 'no-such-rig'"),
        (["--line-up", "duo"], "'solo guitar'"),
        (["--seed", "x"], "no seed"),
    ],
)
def test_wrong_use_is_one_line(capsys: pytest.CaptureFixture[str], arguments: list[str], says: str) -> None:
    assert call(["show", INTRO, *arguments]) == 2
    out, error = capsys.readouterr()
    assert out == ""
    assert says in error
    assert error.count("\n") == 1


def test_a_tunes_chart_in_its_own_key_or_another(show: Show) -> None:
    own = show("late-bus-to-orrin", "--chart")
    assert "Late Bus to Orrin in Ab, 4/4: 32 bars a chorus, A B A C" in own
    assert "   1  A  Bbm7 | Eb7 | Abmaj7 | Db7" in own
    assert "   1  A  Gm7 | C7 | Fmaj7 | Bb7" in show("late-bus-to-orrin", "--chart", "--key", "F")
    assert json.loads(show("late-bus-to-orrin", "--chart", "--json"))["lands_on"] == "Ab6"


def test_a_sets_charts_are_shown_in_the_sets_keys(show: Show) -> None:
    text = show("demo", "--chart")
    assert "Lantern for Edda in F," in text
    assert "Quince and Quarrel: no chart" in text
    assert len(json.loads(show("demo", "--chart", "--json"))) == 3


def test_a_chart_that_is_not_there_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert call(["show", "bossa, C", "--chart"]) == 1
    assert "has no chart" in capsys.readouterr().err
    assert call(["show", "marmalade-weather", "--chart", "--key", "D"]) == 1
    assert "in minor; D is major" in capsys.readouterr().err
