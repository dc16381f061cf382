"""A rig's text with another foot-switch: what was not changed is as it was, byte for byte."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from pathlib import Path

import pytest

from introit.errors import IntroitError, Problem
from introit.library.content import program_root
from introit.library.rig_editing import edited_rig
from introit.library.stage import Rig

Read = Callable[[str, str], tuple[object | None, list[Problem]]]

RIG = """\
# The small room.   Two doors.
name: "Small room"   # mine

ports:
  main: {system: jack, to: 'synth', from: any}   # on one cable
# what plays
parts:
  comp: {port: main, channel: 1}
foot_switch:
  # bought second-hand
  number: 64        # the old one
  action: momentary # they say

  # the low notes
key_zone: {low: C1, high: B2}
keys:
  press: [space, b]
guitar:
  tuning:
    - D2
    - A2
    - D3
    - G3
    - B3
    - E4
"""


def changes(before: str, after: str) -> list[str]:
    lines = difflib.ndiff(before.splitlines(), after.splitlines())
    return [line for line in lines if line[0] in "+-"]


def test_only_what_is_told_changes() -> None:
    new = edited_rig(RIG, {"number": 80, "inverted": True})
    assert changes(RIG, new) == [
        "-   number: 64        # the old one",
        "+   number: 80        # the old one",
        "+   inverted: true",
    ]


def test_nothing_told_changes_nothing() -> None:
    assert edited_rig(RIG, {"number": 64}) == RIG


@pytest.mark.parametrize("path", sorted((program_root() / "config" / "rigs").glob("*.yaml")), ids=str)
def test_rigs_that_come_with_the_program_keep_every_other_line(path: Path, read: Read) -> None:
    text = path.read_text(encoding="utf-8")
    new = edited_rig(text, {"message": "note", "number": 40, "action": "latching", "channel": 3})
    own = {"message", "number", "action", "channel"} | (
        {"foot_switch"} if "\nfoot_switch:" not in text else set()
    )
    for line in changes(text, new):
        assert line.strip("+- ").split(":")[0] in own
    rig, problems = read("rig", new)
    assert problems == []
    assert isinstance(rig, Rig)
    assert rig.foot_switch is not None
    assert (rig.foot_switch.number, rig.foot_switch.channel, rig.foot_switch.action) == (40, 3, "latching")


@pytest.mark.parametrize(
    "before", ["", "foot_switch:\n", "foot_switch: {}\n", "foot_switch: {number: 3, action: latching}\n"]
)
def test_a_foot_switch_that_is_missing_or_on_one_line(before: str, read: Read) -> None:
    text = "name: x\nports:\n  a: {to: any}\nparts:\n  comp: {port: a, channel: 1}\n" + before
    new = edited_rig(
        text,
        {"port": "feet", "message": "control", "number": 9, "action": "momentary"},
        ports={"feet": {"system": "rtmidi", "from": "Board: 1 # 2"}},
    )
    rig, problems = read("rig", new)
    assert problems == []
    assert isinstance(rig, Rig)
    assert rig.foot_switch is not None
    assert (rig.foot_switch.port, rig.foot_switch.number) == ("feet", 9)
    assert {port.name: port.source for port in rig.ports} == {"a": None, "feet": "Board: 1 # 2"}


def test_line_ends_stay_what_they_were() -> None:
    new = edited_rig(RIG.replace("\n", "\r\n"), {"number": 80})
    assert new.replace("\r\n", "\n") == edited_rig(RIG, {"number": 80})
    assert new.count("\r\n") == new.count("\n") == RIG.count("\n")


@pytest.mark.parametrize("text", ["- a\n- b\n", "a: [\n", "a: 1\na: 2\n", ""])
def test_what_is_no_rig_is_said_in_one_line(text: str) -> None:
    with pytest.raises(IntroitError, match="rig") as raised:
        edited_rig(text, {"number": 1})
    assert "\n" not in str(raised.value)


# --- controls ---------------------------------------------------------------------------------------

BACK = {"do": "back", "message": "control", "number": 66, "channel": 1}
TWO = """\
controls:
  # on the floor
  - {do: next, number: 65}   # the left one
  - do: mute
    part: comp
    number: 67   # the right one

# what follows
active_sensing: true
"""


def test_a_first_control_makes_a_list() -> None:
    assert changes(RIG, edited_rig(RIG, {}, control=BACK)) == [
        "+ controls:",
        "+   - {do: back, message: control, number: 66, channel: 1}",
    ]


def test_another_control_leaves_the_others_and_their_comments() -> None:
    new = edited_rig(RIG + TWO, {}, control=BACK)
    assert changes(RIG + TWO, new) == ["+   - {do: back, message: control, number: 66, channel: 1}"]
    assert new.index("do: next") < new.index("do: back") < new.index("do: mute") < new.index("# what follows")


@pytest.mark.parametrize(
    ("control", "gone", "come"),
    [
        (
            {"do": "next", "number": 80},
            "  - {do: next, number: 65}   # the left one",
            "  - {do: next, number: 80}   # the left one",
        ),
        (
            {"do": "mute", "part": "comp", "number": 9},
            "    number: 67   # the right one",
            "    number: 9    # the right one",
        ),
    ],
)
def test_a_control_for_the_same_order_gets_new_keys(
    control: dict[str, str | int], gone: str, come: str
) -> None:
    assert changes(RIG + TWO, edited_rig(RIG + TWO, {}, control=control)) == [f"- {gone}", f"+ {come}"]


def test_the_same_order_of_another_part_is_another_control() -> None:
    new = edited_rig(RIG + TWO, {}, control={"do": "mute", "part": "bass", "number": 9})
    assert changes(RIG + TWO, new) == ["+   - {do: mute, part: bass, number: 9}"]


@pytest.mark.parametrize(
    "before",
    [
        "controls: {do: next, number: 65}   # mine\n\n# what follows\nactive_sensing: true\n",
        "controls:\n  do: next   # mine\n  number: 65\n\n# what follows\nactive_sensing: true\n",
        "controls:   # mine\n\n# what follows\nactive_sensing: true\n",
        "controls: []   # mine\n\n# what follows\nactive_sensing: true\n",
    ],
)
def test_a_control_that_was_no_list_keeps_its_place_and_comment(before: str, read: Read) -> None:
    plain = "name: x\nports:\n  a: {to: any, from: any}\nparts:\n  comp: {port: a, channel: 1}\n"
    new = edited_rig(plain + before, {}, control=BACK)
    assert new.index("# mine") < new.index("# what follows") < new.index("active_sensing")
    assert new.index("do: back") < new.index("# what follows")
    rig, problems = read("rig", new)
    assert problems == []
    assert isinstance(rig, Rig)
    assert [control.do for control in rig.controls] == ["back", *["next"] * ("next" in before)]
