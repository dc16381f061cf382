"""Lamps as a rig file says them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from introit.errors import Problem
from introit.library.stage import Rig, RigLamp

Read = Callable[[str, str], tuple[object | None, list[Problem]]]

RIG = (
    "name: x\nports:\n  board: {to: any, from: Keys}\n  floor: {from: any}\n"
    "parts:\n  comp: {port: board, channel: 2}\nlamps:\n"
)


def lamps(read: Read, *written: str) -> tuple[RigLamp, ...]:
    thing, problems = read("rig", RIG + "".join(f"  - {{{lamp}}}\n" for lamp in written))
    assert problems == []
    assert isinstance(thing, Rig)
    return thing.lamps


def test_what_is_left_out_is_full_light_and_none_on_channel_one(read: Read) -> None:
    read_lamps = lamps(
        read,
        "when: ready, port: board, message: note, number: C1",
        "when: last bar, port: board, message: control, number: 119, channel: 16, on: 0, off: 127",
    )
    assert read_lamps == (
        RigLamp("ready", "board", "note", 24, 1, 127, 0),
        RigLamp("last bar", "board", "control", 119, 16, 0, 127),
    )


def test_programs_are_counted_from_one_and_need_not_be_put_out(read: Read) -> None:
    assert lamps(
        read,
        "when: playing, port: board, message: program, number: 128",
        "when: ready, port: board, message: program, number: 1, off: 2",
    ) == (
        RigLamp("playing", "board", "program", 127, 1, 127, None),
        RigLamp("ready", "board", "program", 0, 1, 0, 1),
    )


def test_one_lamp_needs_no_list(read: Read) -> None:
    thing, problems = read(
        "rig", RIG.replace("lamps:\n", "lamps: {when: ready, port: board, message: note, number: 36}\n")
    )
    assert problems == []
    assert isinstance(thing, Rig)
    assert len(thing.lamps) == 1


@pytest.mark.parametrize(
    ("written", "code", "text"),
    [
        ("when: §redy, port: board, message: note, number: 36", "not-allowed", "Did you mean 'ready'?"),
        ("when: ready, port: §bord, message: note, number: 36", "not-there", "Did you mean 'board'?"),
        ("when: ready, port: board, message: §sysex, number: 36", "not-allowed", "control, note, program"),
        ("when: ready, port: board, message: control, number: §123", "out-of-range", "0 to 119"),
        ("when: ready, port: board, message: program, number: §0", "out-of-range", "1 to 128"),
        ("when: ready, port: board, message: note, number: §X1", "wrong-type", "'X1' is no note"),
        ("when: ready, port: board, message: note, number: 36, on: §0", "out-of-range", "1 to 127"),
        (
            "when: ready, port: board, message: note, number: 36, on: 5, §off: 5",
            "does-not-fit",
            "lit and out",
        ),
        ("when: ready, port: board, message: program, number: 5, §off: 5", "does-not-fit", "lit and out"),
        ("when: ready, port: board, message: program, number: 5, §on: 5", "unknown-key", "'on'"),
        ("when: ready, port: board, message: note, number: 36, §colour: 5", "unknown-key", "colour"),
        ("§when: ready, port: floor, message: note, number: 36", "does-not-fit", "'floor' only listens"),
        ("§when: ready, port: board, message: note, number: 36, channel: 2", "does-not-fit", "'comp' would"),
    ],
)
def test_a_lamp_that_cannot_be(written: str, code: str, text: str, read: Read) -> None:
    place = written.index("§")
    thing, problems = read("rig", RIG + f"  - {{{written.replace('§', '')}}}\n")
    assert thing is None
    # A whole lamp's place is its brace.
    column = 5 if code == "does-not-fit" and place == 0 else 6 + place
    assert [(problem.code, problem.line, problem.column) for problem in problems] == [(code, 8, column)]
    assert text in str(problems[0])


def test_what_is_missing_is_all_told_at_once(read: Read) -> None:
    thing, problems = read("rig", RIG + "  - {on: 3}\n")
    assert thing is None
    assert {problem.code for problem in problems} == {"missing-key"}
    missing = {"message", "when", "port", "number"}
    assert {problem.message for problem in problems} == {f"a lamp needs '{key}'" for key in missing}


def test_two_lamps_may_share_a_light_but_not_to_tell_the_same(read: Read) -> None:
    one = "when: ready, port: board, message: note, number: 36"
    assert len(lamps(read, one, one.replace("ready", "playing") + ", on: 5")) == 2
    thing, problems = read("rig", RIG + f"  - {{{one}}}\n  - {{{one}, on: 5}}\n")
    assert thing is None
    assert [(problem.code, problem.line) for problem in problems] == [("does-not-fit", 9)]
    assert "two lamps tell 'ready'" in str(problems[0])
