"""`introit suggest` as a player meets it; which intro suits is tested with the ranking, in tests/arrange."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from introit.cli.commands import suggest as command
from introit.cli.content import open_library
from introit.cli.main import run
from introit.library.model import Library

CALL = "medium swing, Ab, starts on two, 140"


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = run(["suggest", *arguments])
    printed = capsys.readouterr()
    return code, printed.out, printed.err


def rows(capsys: pytest.CaptureFixture[str], *arguments: str) -> list[dict[str, Any]]:
    code, out, error = call(capsys, *arguments, "--json")
    assert (code, error) == (0, "")
    found: list[dict[str, Any]] = json.loads(out)
    return found


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "TUNE"),
        (["late-buss-to-orrin"], "Did you mean 'late-bus-to-orrin'?"),
        (["no such tune"], "'introit tunes'"),
        (["medium swing, H"], "cannot be read here"),
        (["bosanova, C"], "Did you mean 'bossa'?"),
        (["no-such-file.yaml"], "no file 'no-such-file.yaml'"),
        ([CALL, "--key", "D# minor"], "Did you mean"),
        ([CALL, "--after", "dominant-vam"], "Did you mean 'dominant-vamp'?"),
        ([CALL, "--after", "dominant-vamp,"], "'introit intros'"),
        ([CALL, "--most", "0"], "--most"),
        (["demo", "--key", "C"], "--key is for one tune"),
    ],
)
def test_wrong_use_is_one_clear_line(
    capsys: pytest.CaptureFixture[str], arguments: list[str], says: str
) -> None:
    code, out, error = call(capsys, *arguments)
    assert (code, out) == (2, "")
    assert says in error
    assert error.startswith("introit: ")
    assert error.count("\n") == 1


def test_every_answer_fits_80_columns(capsys: pytest.CaptureFixture[str]) -> None:
    library = open_library(quiet=True)
    calls = [f"{feel.replace('-', ' ')}, F# minor" for feel in library.feels]
    for name in (*library.tunes, *library.sets, *calls):
        for options in ([], ["--all"], ["--after", "dominant-vamp"]):
            code, out, error = call(capsys, name, *options)
            assert (code, error) == (0, ""), name
            assert max(map(len, out.splitlines())) <= 80, name


def test_a_tune_gets_five_with_their_reasons(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = call(capsys, "late-bus-to-orrin")
    assert code == 0
    words = " ".join(out.split())
    assert words.startswith(
        "Late Bus to Orrin: Ab, 4/4, 140, medium swing, starts on ii7, pickup of 1.5 beats "
        "its own intro: three-six-two-five 1 "
    )
    assert "made for medium swing; " in words
    numbered = [line for line in out.splitlines()[:-1] if line[:2].strip().isdigit()]
    assert [int(line[:2]) for line in numbered] == [1, 2, 3, 4, 5]
    assert words.endswith("--all lists them")


def test_what_is_printed_is_what_is_in_the_json(capsys: pytest.CaptureFixture[str]) -> None:
    found = rows(capsys, CALL, "--most", "3")
    assert [row["rank"] for row in found] == [1, 2, 3]
    assert all(next(iter(row)) == "id" for row in found)
    scores = [row["score"] for row in found]
    assert scores == sorted(scores, reverse=True)
    words = " ".join(call(capsys, CALL, "--most", "3")[1].split())
    for row in found:
        assert f"{row['rank']} {row['id']} {'; '.join(row['reasons'])}" in words


def test_an_id_is_what_after_takes(capsys: pytest.CaptureFixture[str]) -> None:
    first = rows(capsys, CALL)[0]["id"]
    after = rows(capsys, CALL, "--after", first)
    assert after[0]["id"] != first
    both = rows(capsys, CALL, "--after", f"{first}, {after[0]['id']}")
    assert both[0]["id"] not in {first, after[0]["id"]}


def test_all_lists_each_intro_once(capsys: pytest.CaptureFixture[str]) -> None:
    library = open_library(quiet=True)
    found = rows(capsys, "jazz waltz, G minor", "--all")
    assert sorted(row["id"] for row in found) == sorted(library.intros)
    refused = [row for row in found if row["why_not"]]
    assert refused
    assert all(row["rank"] is None and row["reasons"] == [] for row in refused)
    out = call(capsys, "jazz waltz, G minor", "--all")[1]
    can, cannot = out.split("cannot be played:")
    assert all(row["id"] in (cannot if row["why_not"] else can) for row in found)


def test_a_called_key_decides_the_mode(capsys: pytest.CaptureFixture[str]) -> None:
    found = rows(capsys, "lantern-for-edda", "--key", "F minor", "--all")
    assert {row["key"] for row in found} == {"F minor"}
    assert next(row for row in found if row["id"] == "sharp-four-descent")["why_not"]
    out = call(capsys, "lantern-for-edda", "--key", "F minor")[1]
    assert "its own intro: sharp-four-descent, which cannot be played here" in out


def test_several_intros_of_ones_own_are_told_in_their_turn(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    library = open_library(quiet=True)
    own = library.tunes["lantern-for-edda"]
    tune = replace(own, intro="sharp-four-descent", more_intros=("dominant-vamp",))
    answer_from(replace(library, tunes=library.tunes | {own.id: tune}), monkeypatch)
    out = call(capsys, own.id)[1]
    assert "its own intros, in rotation: sharp-four-descent, dominant-vamp\n" in out
    words = " ".join(call(capsys, own.id, "--key", "F minor")[1].split())
    assert "sharp-four-descent, dominant-vamp; cannot be played here: sharp-four-descent" in words


def test_a_set_gives_each_tune_its_first(capsys: pytest.CaptureFixture[str]) -> None:
    library = open_library(quiet=True)
    found = rows(capsys, "demo")
    assert [row["title"] for row in found] == [tune.title for tune in library.sets["demo"].tunes]
    assert {row["rank"] for row in found} == {1}


def test_a_set_of_open_tunes_has_no_intro_twice_running(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    library = open_library(quiet=True)
    tune = replace(library.tunes["two-left-umbrellas"], intro=None)
    library.sets["same"] = replace(library.sets["demo"], id="same", tunes=(tune,) * 5)
    answer_from(library, monkeypatch)
    names = [row["id"] for row in rows(capsys, "same")]
    assert len(names) == 5
    assert all(one != other for one, other in pairwise(names))


def answer_from(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(command, "open_library", lambda *, quiet: library)


def test_nothing_that_can_be_played_is_told_and_fails(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    library = open_library(quiet=True)
    only = {"sharp-four-descent": library.intros["sharp-four-descent"]}
    answer_from(replace(library, intros=only), monkeypatch)
    code, out, error = call(capsys, "bossa, D minor")
    assert (code, out) == (1, "")
    assert error == (
        "introit: no intro can be played for Bossa from i: D minor, 4/4, 128, bossa, starts on i; "
        "--all says why\n"
    )
    code, out, error = call(capsys, "bossa, D minor", "--all")
    assert code == 1
    assert "cannot be played:\n    sharp-four-descent  has no minor form; it has: major\n" in out
    assert error.count("\n") == 1
    code, out, _ = call(capsys, "bossa, D minor", "--json")
    assert (code, json.loads(out)) == (1, [])


def test_a_long_id_stands_alone_and_whole(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    library = open_library(quiet=True)
    name = "a-very-long-name-that-somebody-gave-to-a-short-intro"
    intro = replace(library.intros["dominant-vamp"], id=name)
    answer_from(replace(library, intros={name: intro}), monkeypatch)
    code, out, _ = call(capsys, CALL)
    assert code == 0
    assert f"\n 1  {name}\n" in out
    assert max(map(len, out.splitlines())) <= 80
