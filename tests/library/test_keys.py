"""The keys of a rig file."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from introit.errors import Problem
from introit.library.stage import Rig, RigKeys

Read = Callable[[str, str], tuple[object | None, list[Problem]]]

RIG = "name: x\nports:\n  main: {to: any}\nparts:\n  comp: {port: main, channel: 1}\n"


def test_a_rig_without_keys_has_the_usual_ones(read: Read) -> None:
    rig, problems = read("rig", RIG)
    assert problems == []
    assert isinstance(rig, Rig)
    assert rig.keys == RigKeys()


@pytest.mark.parametrize(
    ("written", "keys"),
    [
        ("{press: b}", RigKeys(press=("b",))),
        ("{press: [page-down, B, F5], next: '>'}", RigKeys(press=("page down", "B", "f5"), next=(">",))),
        ("{hold: up, next: right, press: down}", RigKeys(hold=("up",), next=("right",), press=("down",))),
    ],
)
def test_keys_by_name_or_by_what_they_type(written: str, keys: RigKeys, read: Read) -> None:
    rig, problems = read("rig", RIG + f"keys: {written}\n")
    assert problems == []
    assert isinstance(rig, Rig)
    assert rig.keys == keys


@pytest.mark.parametrize(
    ("written", "code", "says"),
    [
        ("press: pagedown", "not-allowed", "Did you mean 'page down'?"),
        ("press: [space, [x]]", "wrong-type", "a key"),
        ("press: []", "wrong-type", "empty"),
        ("hold: space", "does-not-fit", "'space' stands for both press and hold"),
        ("pres: x", "unknown-key", "press"),
    ],
)
def test_keys_that_cannot_be(written: str, code: str, says: str, read: Read) -> None:
    rig, problems = read("rig", RIG + f"keys: {{{written}}}\n")
    assert rig is None
    assert [problem.code for problem in problems] == [code]
    assert problems[0].line == 6
    assert says in str(problems[0])
