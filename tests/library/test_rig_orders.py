"""Controls beside the foot-switch as a rig file says them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from introit.errors import Problem
from introit.library.rig_orders import ORDERS
from introit.library.stage import Rig, RigControl
from introit.live.states import Order

Read = Callable[[str, str], tuple[object | None, list[Problem]]]

RIG = (
    "name: x\nports:\n  main: {to: any, from: Keys}\n  pads: {from: Pads}\n  out: {to: Synth}\n"
    "parts:\n  comp: {port: main, channel: 1}\n  bass: {port: main, channel: 2}\n"
    "  click: {port: main, channel: 10, muted: true}\n"
    "foot_switch: {port: main, message: control, number: 64}\n"
    "key_zone: {port: main, low: C1, high: B2}\n"
    "controls:\n"
)


def controls(read: Read, *written: str) -> tuple[RigControl, ...]:
    thing, problems = read("rig", RIG + "".join(f"  - {{{control}}}\n" for control in written))
    assert [str(problem) for problem in problems] == []
    assert isinstance(thing, Rig)
    return thing.controls


def test_the_words_are_the_sessions() -> None:
    assert list(ORDERS) == [order.value for order in Order]


def test_a_control_for_every_order(read: Read) -> None:
    assert controls(
        read,
        "do: next, message: control, number: 65",
        "do: back, number: 66, channel: 3, action: latching, on_at: 30, off_at: 20",
        "do: another intro, message: note, number: C3, port: pads, inverted: true",
        "do: faster, message: program, number: 128",
        "do: mute, part: bass, message: note, number: C2, port: pads",
        "do: mute, part: comp, to: heard, number: 67",
        "do: level, part: comp, number: 11, inverted: true, low: 4, high: 120",
        "do: tune, tune: 3, message: note, number: 50",
        "do: tune, message: song select",
    ) == (
        RigControl("next", number=65),
        RigControl("back", number=66, channel=3, action="latching", on_at=30, off_at=20),
        RigControl("another intro", port="pads", message="note", number=48, inverted=True),
        RigControl("faster", message="program", number=127),
        RigControl("mute", port="pads", message="note", number=36, part="bass"),
        RigControl("mute", number=67, part="comp", muted=False),
        RigControl("level", number=11, part="comp", inverted=True, low=4, high=120),
        RigControl("tune", message="note", number=50, tune=3),
        RigControl("tune", message="song select"),
    )


def test_one_control_needs_no_list(read: Read) -> None:
    thing, problems = read("rig", RIG.replace("controls:\n", "controls: {do: next, number: 65}\n"))
    assert problems == []
    assert isinstance(thing, Rig)
    assert thing.controls == (RigControl("next", number=65),)


def test_program_changes_that_say_which_tune_and_one_that_stands_for_a_tune(read: Read) -> None:
    assert controls(read, "do: tune, message: program") == (RigControl("tune", message="program"),)
    assert controls(read, "do: tune, message: program, number: 1, tune: 5") == (
        RigControl("tune", message="program", number=0, tune=5),
    )


def test_one_pedal_or_switch_may_be_for_several_parts(read: Read) -> None:
    assert (
        len(
            controls(
                read,
                "do: level, part: comp, number: 11",
                "do: level, part: bass, number: 11",
                "do: mute, part: comp, number: 65",
                "do: mute, part: bass, to: heard, number: 65",
            )
        )
        == 4
    )


def test_what_only_looks_alike_is_apart(read: Read) -> None:
    controls(
        read,
        "do: next, number: 64, port: pads",  # the foot-switch's number, on another cable
        "do: back, message: note, number: 40, port: pads",  # the key zone's note, likewise
        "do: faster, number: 65, channel: 1",
        "do: slower, number: 65, channel: 2",
        "do: silence, message: note, number: 65",
    )


@pytest.mark.parametrize(
    ("written", "code", "text"),
    [
        ("do: §nxt, number: 65", "not-allowed", "Did you mean 'next'?"),
        ("do: §tap-tempo, number: 65", "not-allowed", "Did you mean 'tap tempo'?"),
        ("§number: 65", "missing-key", "needs 'do'"),
        ("§do: next", "missing-key", "which controller?"),
        ("do: next, number: §any", "wrong-type", "0 to 127"),
        ("do: next, number: §128", "out-of-range", "0 to 127"),
        ("do: next, message: program, number: §0", "out-of-range", "1 to 128"),
        ("do: next, message: §song selct, number: 5", "not-allowed", "Did you mean 'song select'?"),
        ("do: next, port: §mian, number: 65", "not-there", "Did you mean 'main'?"),
        ("do: next, number: 65, channel: §17", "out-of-range", "1 to 16"),
        ("do: next, number: 65, §part: comp", "does-not-fit", "only mute and level can have it"),
        ("do: mute, part: comp, number: 65, §tune: 1", "does-not-fit", "only tune can have it"),
        ("do: next, number: 65, §to: muted", "does-not-fit", "only mute can have it"),
        ("do: mute, part: comp, number: 65, to: §mute", "not-allowed", "Did you mean 'muted'?"),
        ("§do: mute, number: 65", "missing-key", "'mute' needs 'part'"),
        ("do: mute, part: §bas, number: 65", "not-allowed", "Did you mean 'bass'?"),
        ("do: level, part: comp, §message: note, number: 60", "does-not-fit", "a controller that moves"),
        ("do: level, part: comp, number: 11, §action: latching", "does-not-fit", "is a switch's"),
        ("do: level, part: comp, number: 11, §low: 90, high: 90", "does-not-fit", "inverted: true"),
        ("do: next, number: 65, on_at: 40, §off_at: 40", "does-not-fit", "must lie under on_at"),
        ("do: tune, message: program, §number: 5", "does-not-fit", "needs 'tune' too"),
        ("do: tune, message: program, §tune: 5", "does-not-fit", "which program"),
        ("§do: tune, number: 65", "missing-key", "which tune, from 1"),
        ("do: next, §message: song select", "does-not-fit", "so it can only be for 'tune'"),
        ("do: tune, message: song select, §channel: 2", "does-not-fit", "has no channel"),
        ("do: next, number: 65, §partt: comp", "unknown-key", "Did you mean 'part'?"),
        ("§do: next, number: 64", "does-not-fit", "controller 64 is the foot-switch's already (line 10)"),
        ("§do: next, message: note, number: B2", "does-not-fit", "note B2 lies in the key zone (line 11)"),
        ("§do: next, port: out, number: 65", "does-not-fit", "'out' only sends; give it `from:`"),
        ("§do: level, part: ride, number: 11", "does-not-fit", "its parts are comp, bass, click"),
    ],
)  # fmt: skip
def test_a_control_that_cannot_be(
    written: str, code: str, text: str, problem_at: Callable[[str, str], Problem]
) -> None:
    at_block = written.startswith("§")  # a control as a whole, or its first key
    whole = code == "does-not-fit" or (code == "missing-key" and "needs 'do'" in text)
    line = f"  - §{{{written[1:]}}}\n" if at_block and whole else f"  - {{{written}}}\n"
    problem = problem_at("rig", RIG + line)
    assert problem.code == code
    assert text in str(problem)


@pytest.mark.parametrize(
    ("first", "second", "text"),
    [
        ("do: next, number: 65", "do: back, number: 65, channel: 2", "controller 65 is that of 'next'"),
        ("do: next, number: 65", "do: next, number: 65", "controller 65 is that of 'next' already (line 13)"),
        ("do: tune, message: program", "do: next, message: program, number: 7", "program 7 is that of"),
        ("do: tune, message: song select", "do: tune, message: song select", "song select without a number"),
        (
            "do: level, part: comp, number: 11",
            "do: mute, part: bass, number: 11",
            "controller 11 is that of 'level'",
        ),
        (
            "do: mute, part: comp, number: 65, to: muted",
            "do: mute, part: comp, number: 65, to: heard",
            "that of 'mute' already",
        ),
    ],
)  # fmt: skip
def test_one_message_cannot_order_two_things(
    first: str, second: str, text: str, problem_at: Callable[[str, str], Problem]
) -> None:
    problem = problem_at("rig", f"{RIG}  - {{{first}}}\n  - §{{{second}}}\n")
    assert problem.code == "does-not-fit"
    assert text in str(problem)


def test_a_foot_switch_that_takes_any_number_leaves_none(problem_at: Callable[[str, str], Problem]) -> None:
    rig = RIG.replace("number: 64", "number: any")
    assert "foot-switch's already" in str(problem_at("rig", rig + "  - §{do: next, number: 65}\n"))


def test_a_rig_where_nothing_listens_hears_no_control(problem_at: Callable[[str, str], Problem]) -> None:
    rig = "name: x\nports:\n  a: {to: any}\nparts:\n  comp: {port: a, channel: 1}\ncontrols:\n"
    assert "no port of the rig listens" in str(problem_at("rig", rig + "  - §{do: next, number: 65}\n"))


def test_the_example_with_two_switches(read: Read) -> None:
    from introit.library.content import program_root

    path = program_root() / "config" / "rigs" / "two-switches.yaml"
    thing, problems = read("rig", path.read_text(encoding="utf-8"))
    assert problems == []
    assert isinstance(thing, Rig)
    assert [control.do for control in thing.controls] == [
        "next", "level", "mute", "tap tempo", "sound check", "silence", "tune"
    ]  # fmt: skip
    assert "page up" in thing.keys.next
    assert "page up" not in thing.keys.back


def test_a_part_that_begins_muted_can_be_brought_in_by_a_control(read: Read) -> None:
    assert controls(read, "do: mute, part: click, number: 65") == (
        RigControl("mute", number=65, part="click"),
    )
