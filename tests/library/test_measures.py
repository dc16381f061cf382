"""The file of measures: the shipped one, a user's own over it, and mistakes at their places."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from introit.errors import ContentError, Problem
from introit.library.content import program_root
from introit.library.measures import FILE, UNITS, load_measures, read_measures

SHIPPED = (program_root() / FILE).read_text(encoding="utf-8")


def problem_in(text: str, tmp_path: Path) -> Problem:
    """The only problem of a text; its place must be that of the `§`, which is taken out before reading."""
    before, mark, after = text.partition("§")
    assert mark
    path = tmp_path / "measures.yaml"
    path.write_text(before + after, encoding="utf-8")
    with pytest.raises(ContentError) as caught:
        read_measures(path)
    assert len(caught.value.problems) == 1, str(caught.value)
    problem = caught.value.problems[0]
    assert (problem.line, problem.column) == (before.count("\n") + 1, len(before) - before.rfind("\n"))
    return problem


def test_the_shipped_file_says_what_the_trade_asks() -> None:
    """Figures as the arranger's brief has them; common practice, no source."""
    measures = load_measures([program_root()])
    assert set(measures.measures) == set(UNITS)
    assert measures["one mover"].least == 85
    assert (measures["pushes"].least, measures["pushes"].most) == (25, 40)
    assert measures["position change"].beats == Fraction(1, 2)
    assert measures["one mover"].apart >= {"block", "two-hand"}
    assert measures.ranges["bass"] == (28, 55)  # E1 to G3 (from memory)
    assert measures.melody_out == {3: 3, 4: 3, 5: 4}


def test_a_users_own_file_replaces_it(tmp_path: Path) -> None:
    own = tmp_path / FILE
    own.parent.mkdir()
    own.write_text(SHIPPED.replace("least: 85", "least: 70"), encoding="utf-8")
    assert load_measures([program_root(), tmp_path])["one mover"].least == 70
    assert load_measures([program_root(), tmp_path / "nowhere"])["one mover"].least == 85


@pytest.mark.parametrize(
    ("old", "new", "code", "says"),
    [
        ("least: 85", "least: §850", "out-of-range", "0 to 100 percent"),
        ("least: 85", "least: §many", "wrong-type", "a number from 0 to 100 percent"),
        (
            "least: 85\n    from: 8",
            "least: 85\n    §form: 8\n    from: 8",
            "unknown-key",
            "Did you mean 'from'?",
        ),
        ("own_rhythm: [broken,", "own_rhythm: [§broke,", "not-allowed", "Did you mean 'broken'?"),
        ("  one mover:", "  §one muver: 1\n  one mover:", "unknown-key", "Did you mean 'one mover'?"),
        ("bass: [E1, G3]", "bass: [E1, §H3]", "wrong-type", "is no note"),
        ("bass: [E1, G3]", "bass: §[G3, E1]", "out-of-range", "the lower note comes first"),
        ("bass: [E1, G3]", "bass: §E1", "wrong-type", "a lowest and a highest note"),
        ("least: 25\n    most: 40", "§least: 50\n    most: 40", "out-of-range", "nothing is between them"),
        ("  3/4: 3\n", "  3/4: §4\n", "out-of-range", "1 to 3 beats"),
        ("beats: 3/4", "beats: §off", "yaml-word", "beats from 0 to 8"),
        ("measures:\n", "measures: §1\nnothing:\n", "wrong-type", "keys and values"),
    ],
)
def test_a_mistake_is_told_at_its_place(old: str, new: str, code: str, says: str, tmp_path: Path) -> None:
    assert SHIPPED.count(old) == 1, old
    text = SHIPPED.replace(old, new)
    if "nothing:" in text:
        text = text[: text.index("nothing:")]
    problem = problem_in(text, tmp_path)
    assert problem.code == code
    assert says in str(problem)


@pytest.mark.parametrize(("text", "says"), [("", "is empty"), ("# only this\n", "is empty")])
def test_an_empty_file_is_told(text: str, says: str, tmp_path: Path) -> None:
    path = tmp_path / "measures.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ContentError, match=says):
        read_measures(path)


@pytest.mark.parametrize("name", sorted(UNITS))
def test_a_missing_measure_is_told(name: str, tmp_path: Path) -> None:
    path = tmp_path / "measures.yaml"
    path.write_text(SHIPPED.replace(f"\n  {name}:", f"\n  {name}x:"), encoding="utf-8")
    with pytest.raises(ContentError) as caught:
        read_measures(path)
    assert {problem.code for problem in caught.value.problems} == {"missing-key", "unknown-key"}


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(ContentError, match="cannot be read"):
        load_measures([tmp_path])
