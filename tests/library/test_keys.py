"""The keys of a rig file."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from introit.errors import Problem
from introit.library.keys import key_uses, keys_for
from introit.library.stage import Rig, RigKeys
from introit.live.states import Order
from introit.performance import PARTS

Read = Callable[[str, str], tuple[object | None, list[Problem]]]

RIG = "name: x\nports:\n  main: {to: any}\nparts:\n  comp: {port: main, channel: 1}\n"


def muting(**keys: tuple[str, ...]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The usual keys that mute, but for these parts."""
    return tuple((part, keys.get(part, names)) for part, names in RigKeys().mute)


def read_keys(read: Read, written: str) -> RigKeys:
    rig, problems = read("rig", RIG + f"keys: {written}\n")
    assert problems == []
    assert isinstance(rig, Rig)
    return rig.keys


def test_usual_keys_are_apart_and_there_is_one_for_every_order_but_level() -> None:
    uses = key_uses(RigKeys())
    names = [name for use in uses for name in use.keys]
    assert len(names) == len(set(names))
    assert {use.does for use in uses} == {"press", "hold", "help", "leave", *set(Order) - {Order.LEVEL}}
    assert [use.which for use in uses if use.does == "mute"] == list(PARTS)
    assert [use.which for use in uses if use.does == "tune"] == list("123456789")


@pytest.mark.parametrize(
    ("written", "does", "left"),
    [
        ("{press: b}", "back", ("left", "page up")),
        ("{press: B}", "mute bass", ()),
        ("{hold: space}", "press", ("page down", "enter", "right")),
        ("{next: 3}", "tune 3", ()),
        ("{mute: {comp: i}}", "another intro", ()),
        ("{press: down, hold: up}", "slower", ("-",)),
    ],
)
def test_what_the_rig_writes_takes_a_key_from_what_it_does_not(
    written: str, does: str, left: tuple[str, ...], read: Read
) -> None:
    uses = {str(use): use.keys for use in key_uses(read_keys(read, written))}
    assert uses.get(does, ()) == left
    assert uses["tune 4"] == ("4",)
    names = [name for keys in uses.values() for name in keys]
    assert len(names) == len(set(names))


def test_a_rig_without_keys_has_the_usual_ones(read: Read) -> None:
    rig, problems = read("rig", RIG)
    assert problems == []
    assert isinstance(rig, Rig)
    assert rig.keys == RigKeys()


@pytest.mark.parametrize(
    ("written", "keys"),
    [
        ("{press: w}", RigKeys(press=("w",))),
        ("{press: [page-down, W, F5], next: '>'}", RigKeys(press=("page down", "W", "f5"), next=(">",))),
        ("{another intro: j, tap tempo: tab}", RigKeys(another_intro=("j",), tap_tempo=("tab",))),
        ("{mute: {comp: F2}, tune: [a, z]}", RigKeys(tune=("a", "z"), mute=muting(comp=("f2",)))),
        ("{slower: [], tune: []}", RigKeys(slower=(), tune=())),
    ],
)
def test_keys_by_name_or_by_what_they_type(written: str, keys: RigKeys, read: Read) -> None:
    assert read_keys(read, written) == keys


@pytest.mark.parametrize(
    ("written", "code", "says"),
    [
        ("press: pagedown", "not-allowed", "Did you mean 'page down'?"),
        ("press: [space, [x]]", "wrong-type", "a key"),
        ("press: []", "wrong-type", "empty"),
        ("press: space, hold: space", "does-not-fit", "'space' stands for both press and hold"),
        ("faster: j, mute: {comp: j}", "does-not-fit", "'j' stands for both faster and mute comp"),
        ("tune: [a, b, a]", "does-not-fit", "'a' stands for both tune 1 and tune 3"),
        ("press: [space, h]", "does-not-fit", "press takes the only key of hold; give that another"),
        ("next: q", "does-not-fit", "next takes the only key of leave"),
        ("level: l", "unknown-key", "level"),
        ("tap-tempo: j", "unknown-key", "Did you mean 'tap tempo'?"),
        ("mute: {cmp: j}", "unknown-key", "Did you mean 'comp'?"),
        ("mute: j", "wrong-type", "the keys that mute"),
        ("mute: {bass: j}", "not-there", "the rig has no part 'bass' to mute; its parts are comp"),
        ("pres: x", "unknown-key", "press"),
    ],
)
def test_keys_that_cannot_be(written: str, code: str, says: str, read: Read) -> None:
    rig, problems = read("rig", RIG + f"keys: {{{written}}}\n")
    assert rig is None
    assert [problem.code for problem in problems] == [code]
    assert problems[0].line == 6
    assert says in str(problems[0])


def test_keys_mute_only_parts_that_there_are_one_that_begins_muted_too(read: Read) -> None:
    rig, problems = read("rig", RIG + "  click: {port: main, channel: 10, muted: true}\n")
    assert problems == []
    assert isinstance(rig, Rig)
    assert keys_for(rig).mute == (("comp", ("C",)), ("click", ("K",)))
