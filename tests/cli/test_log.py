"""`introit log` as a player meets it; what it shows is tested with the log, in tests/practice."""

from __future__ import annotations

import csv
import io
import json
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from introit.cli.commands import log as command
from introit.cli.main import run
from introit.practice.log import Played
from introit.practice.log.store import Store, log_path
from introit.theory.key import Key

TODAY = date(2026, 3, 4)
Call = Callable[..., tuple[int, str, str]]


@pytest.fixture(autouse=True)
def at_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("INTROIT_HOME", str(home))
    monkeypatch.setattr(command, "_today", lambda: TODAY)
    return home


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    def make(*arguments: str) -> tuple[int, str, str]:
        code = run(["log", *arguments])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return make


def played(days_ago: int, key: str, tempo: float, **told: Any) -> Played:
    began = datetime(TODAY.year, TODAY.month, TODAY.day, 18, tzinfo=UTC) - timedelta(days=days_ago)
    fields: dict[str, Any] = {"intro": "dominant-vamp", "seconds": 90.0, **told}
    return Played(began=began, key=Key.from_text(key), tempo=tempo, **fields)


@pytest.fixture
def practised() -> list[Played]:
    passes = [
        played(40, "Gb", 90, clean=False),
        played(12, "Bb", 132, clean=True),
        played(2, "C", 120, clean=True),
        played(2, "C", 140, clean=False),
        played(0, "F", 100, intro="plain-turnaround", tune="late-bus-to-orrin"),
    ]
    store = Store.open(log_path(), pytest.fail)
    store.add(passes, UTC)
    store.close()
    return passes


def test_before_the_first_pass_it_says_how_to_begin(call: Call) -> None:
    assert call() == (0, "nothing was practised yet; 'introit practise INTRO' begins\n", "")
    found = json.loads(call("--json")[1])
    assert (found["tempi"], found["visited"], found["rested"], found["due"]) == ([], [], [], [])
    assert [day["passes"] for day in found["days"]] == [0] * 7
    assert not log_path().exists()


def sections(text: str) -> dict[str, list[str]]:
    return {lines[0]: lines[1:] for lines in (part.splitlines() for part in text.strip().split("\n\n"))}


@pytest.mark.usefixtures("practised")
def test_everything_at_a_glance(call: Call) -> None:
    code, out, error = call()
    assert (code, error) == (0, "")
    found = sections(out)
    assert list(found) == [
        "practised, the last seven days",
        "tempo by key",
        "keys never visited",
        "longest unpractised",
        "due again",
    ]
    week = found["practised, the last seven days"]
    assert [line.split()[0] for line in week] == ["Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed", "together"]
    assert week[4].split()[1:5:3] == ["2", "min"]
    assert week[4].endswith("2 passes, 1 clean")
    assert week[-1].endswith("3 passes, 1 clean")
    assert found["longest unpractised"][0] == "  40 days  dominant-vamp in Gb"
    assert found["keys never visited"][0].startswith(
        "plain-turnaround: 1 of 12 major keys, never in C, Bb, Eb"
    )
    assert any("dominant-vamp in Gb" in line for line in found["due again"])
    assert all(len(line) <= 80 for line in out.splitlines())


@pytest.mark.usefixtures("practised")
def test_one_intro_and_since(call: Call) -> None:
    _, out, _ = call("--intro", "dominant-vamp", "--since", "2026-02-20")
    found = sections(out)
    assert "practised, since 2026-02-20" in found
    assert len(found["practised, since 2026-02-20"]) == 1 + (TODAY - date(2026, 2, 20)).days + 1
    assert "plain-turnaround" not in out
    picture = found["tempo by key"]
    played_in = [line.split()[0] for line in picture[1:-1] if not line.endswith("never")]
    assert played_in == ["C", "Bb"]  # Gb was longer ago
    assert "dominant-vamp in Gb" in found["longest unpractised"][0]
    only = json.loads(call("--intro", "plain-turnaround", "--json")[1])
    for view in ("visited", "rested", "due"):
        assert {one["intro"] for one in only[view]} == {"plain-turnaround"}, view


@pytest.mark.usefixtures("practised")
@pytest.mark.parametrize(("text", "days"), [("30d", 30), ("4w", 28), ("2 weeks", 14), ("1 day", 1)])
def test_since_can_be_days_and_weeks_ago(call: Call, text: str, days: int) -> None:
    _, out, _ = call("--since", text)
    assert f"practised, since {TODAY - timedelta(days=days)}" in out


@pytest.mark.usefixtures("practised")
def test_many_days_are_told_by_the_week_and_the_month(call: Call) -> None:
    by_week = sections(call("--since", "60d")[1])["practised, since 2026-01-03"]
    assert len(by_week) < 10
    assert by_week[-1].endswith("5 passes, 2 clean")
    store = Store.open(log_path(), pytest.fail)
    store.add([played(700, "C", 100)], UTC)
    store.close()
    by_month = sections(call("--since", "2024-01-01")[1])["practised, since 2024-01-01"]
    assert by_month[0].startswith("Apr 2024")
    assert len(by_month) == 25


@pytest.mark.usefixtures("practised")
def test_json_says_all_of_it(call: Call) -> None:
    code, out, error = call("--json")
    assert (code, error) == (0, "")
    found = json.loads(out)
    assert found["today"] == "2026-03-04"
    assert found["days"][-1] == {"day": "2026-03-04", "seconds": 90.0, "passes": 1, "clean": 0}
    by_key = {one["key"]: one for one in found["tempi"]}
    assert (by_key["C"]["slowest"], by_key["C"]["fastest"], by_key["C"]["fastest_clean"]) == (120, 140, 120)
    assert {(one["intro"], one["key"]) for one in found["due"]} == {
        ("dominant-vamp", "Gb"),
        ("dominant-vamp", "Bb"),
        ("dominant-vamp", "C"),
        ("plain-turnaround", "F"),
    }
    assert found["rested"][0]["days"] == 40
    assert set(found) == {"today", "days", "tempi", "visited", "rested", "due"}


@pytest.mark.usefixtures("practised")
def test_without_fsrs_all_else_is_shown(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "fsrs", None)
    code, out, error = call()
    assert (code, error) == (0, "")
    assert sections(out)["due again"] == [
        "what is due again is told by the package fsrs: pip install '.[practice]' brings it"
    ]
    assert json.loads(call("--json")[1])["due"] is None


def test_a_table_goes_out_and_comes_in_again(
    call: Call, practised: list[Played], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = tmp_path / "log.csv"
    assert call("--csv", str(table)) == (0, f"{table}: 5 passes\n", "")
    code, out, _ = call("--csv", "-")
    assert code == 0
    assert out.replace("\r\n", "\n") == table.read_bytes().decode().replace("\r\n", "\n")
    assert len(list(csv.DictReader(io.StringIO(out)))) == 5
    assert call("--add", str(table)) == (0, "0 passes added; 5 were there already\n", "")
    log_path().unlink()
    assert call("--add", str(table)) == (0, "5 passes added\n", "")
    store = Store.open(log_path(), pytest.fail)
    assert store.passes() == practised
    store.close()


def test_before_the_first_pass_a_table_has_only_its_head(call: Call) -> None:
    _, out, _ = call("--csv", "-")
    assert out.strip() == "began,seconds,intro,tune,key,tempo,hidden,clean,mode,goal,bars"
    assert not log_path().exists()


LESSON = """
title: For Thursday
tunes:
  - tune: late-bus-to-orrin
    goals: {keys: [Bb, F], tempo: 100, clean: 1, by: 2026-03-10}
  - tune: marmalade-weather
"""


@pytest.fixture
def lesson(tmp_path: Path) -> str:
    path = tmp_path / "lesson.yaml"
    path.write_text(LESSON)
    return str(path)


@pytest.mark.usefixtures("practised")
def test_homework_tells_what_is_done_and_what_is_left(
    call: Call, lesson: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    code, out, error = call("--homework", lesson)
    assert (code, error) == (0, "")
    assert out.splitlines()[:3] == [
        "For Thursday",
        "",
        "Late Bus to Orrin: at 100, 0 of 2 keys done, by 2026-03-10: 6 days to go",
    ]
    assert out.splitlines()[-1] == "left: 2 of 2 keys"
    store = Store.open(log_path(), pytest.fail)
    store.add([played(1, "F", 100, clean=True, tune="late-bus-to-orrin")], UTC)
    code, out, _ = call("--homework", lesson)
    assert "F        1 of 1 clean, done on 2026-03-03" in out
    assert out.splitlines()[-1] == "left: 1 of 2 keys"
    store.add([played(0, "Bb", 100, clean=True, tune="late-bus-to-orrin")], UTC)
    store.close()
    code, out, _ = call("--homework", lesson)
    assert code == 0
    assert "2 of 2 keys done, by 2026-03-10" in out
    assert out.splitlines()[-1] == "all of it is done"
    found = json.loads(call("--homework", lesson, "--json")[1])
    assert found["done"] is True
    assert [key["done_on"] for key in found["tunes"][0]["keys"]] == ["2026-03-04", "2026-03-03"]


@pytest.mark.parametrize(
    ("day", "says"),
    [(9, "1 day to go"), (10, "today is the last day"), (11, "1 day over"), (20, "10 days over")],
)
def test_homework_tells_the_days(
    call: Call, lesson: str, day: int, says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(command, "_today", lambda: date(2026, 3, day))
    assert says in " ".join(call("--homework", lesson)[1].split())


def test_homework_with_a_mistake_tells_its_place(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "lesson.yaml"
    path.write_text(LESSON.replace("2026-03-10", "Thursday"))
    code, _, error = call("--homework", str(path))
    assert code == 2  # the tune that asks is left out, and nothing else is asked
    assert f"{path}:5:" in error
    assert "a day is needed, its year first" in error


@pytest.mark.usefixtures("practised")
@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--intro", "dominant-vam"], "Did you mean 'dominant-vamp'?"),
        (["--intro", "no such thing"], "'introit intros' lists them"),
        (["--since", "Thursday"], "allowed is a date such as 2026-12-01, or 30d or 4w"),
        (["--since", "2026-02-30"], "'2026-02-30' is no day"),
        (["--since", "2026-03-05"], "2026-03-05 is still to come"),
        (["--homework", "demo"], "'demo' asks for nothing"),
        (["--homework", "no such set"], "no set, tune or file"),
        (["--homework", "demo", "--csv", "-"], "do not go together"),
        (["--csv", "-", "--json"], "--json does not go with --csv"),
        (["--csv", "-", "--intro", "dominant-vamp"], "--intro does not go with --csv"),
        (["--add", "no-such-file.csv", "--since", "3d"], "--since does not go with --add"),
    ],
)
def test_wrong_use_is_one_clear_line(call: Call, arguments: list[str], says: str) -> None:
    code, out, error = call(*arguments)
    assert (code, out) == (2, "")
    assert says in error
    assert error.count("\n") == 1


@pytest.mark.usefixtures("practised")
def test_what_cannot_be_done_is_one_clear_line(call: Call, tmp_path: Path) -> None:
    code, _, error = call("--add", str(tmp_path / "none.csv"))
    assert (code, error) == (
        1,
        f"introit: {tmp_path / 'none.csv'} cannot be read: No such file or directory\n",
    )
    code, _, error = call("--csv", str(tmp_path / "none" / "log.csv"))
    assert (code, error.count("\n")) == (1, 1)
    table = tmp_path / "bad.csv"
    table.write_text("began,seconds\n")
    code, _, error = call("--add", str(table))
    assert (code, error) == (2, f"introit: {table}, line 1: there is no column 'intro'.\n")
    table.write_bytes(b"\xff\xfe\x00")
    assert call("--add", str(table))[2] == f"introit: {table} is no table of text: byte 0 is not UTF-8\n"


def test_a_damaged_log_is_said_and_set_aside(call: Call) -> None:
    log_path().write_bytes(b"no database at all")
    code, out, error = call()
    assert (code, out) == (0, "nothing was practised yet; 'introit practise INTRO' begins\n")
    assert error.startswith(f"introit: the practice log {log_path()} was damaged: it is set aside as ")


def test_a_newer_log_is_said_and_left_alone(call: Call) -> None:
    import sqlite3

    Store.open(log_path(), pytest.fail).close()
    connection = sqlite3.connect(log_path())
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    code, out, error = call()
    assert (code, out) == (1, "")
    assert "newer introit" in error
