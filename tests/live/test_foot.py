"""A foot-switch of any kind is read as a foot going down and coming up."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.live.foot import Edge, FootReader, Move, can_be_held
from introit.live.messages import ChannelMessage, control, note_off, note_on, parse, program
from introit.live.setup import FootSwitch
from introit.units import NS_PER_MS

DOWN, UP = Move.DOWN, Move.UP


def read(
    switch: FootSwitch, script: list[tuple[int, bytes]], *, settle_ms: int = 10_000
) -> list[tuple[Move, int]]:
    """The edges, in milliseconds, that messages at milliseconds make."""
    foot, edges = FootReader(switch), []
    for ms, data in script:
        message = parse(data)
        assert isinstance(message, ChannelMessage)
        assert foot.matches(0, message)
        edges += foot.read(message, ms * NS_PER_MS)
    edges += foot.settle(settle_ms * NS_PER_MS)
    return [(edge.move, edge.ns // NS_PER_MS) for edge in edges]


def values(*pairs: tuple[int, int]) -> list[tuple[int, bytes]]:
    return [(ms, control(0, 64, value)) for ms, value in pairs]


def test_a_momentary_control_goes_down_and_up() -> None:
    assert read(FootSwitch(), values((0, 127), (200, 0), (400, 127))) == [(DOWN, 0), (UP, 200), (DOWN, 400)]


def test_an_inverted_one_is_down_at_its_low_value() -> None:
    assert read(FootSwitch(inverted=True), values((0, 127), (100, 0), (300, 127))) == [(DOWN, 100), (UP, 300)]


def test_a_half_way_value_changes_nothing() -> None:
    # Down from 72 up, up from 56 down (the defaults); between them the last one counts.
    script = values((0, 60), (100, 71), (200, 72), (300, 57), (400, 71), (500, 56), (600, 64), (700, 90))
    assert read(FootSwitch(), script) == [(DOWN, 200), (UP, 500), (DOWN, 700)]


def test_a_first_value_that_is_not_all_the_way_down_is_judged_by_the_next() -> None:
    # A pedal that tells its way: going down, coming up from being held; and a switch that sends 100.
    assert read(FootSwitch(), values((0, 80), (4, 110), (8, 127), (200, 0))) == [(DOWN, 4), (UP, 200)]
    assert read(FootSwitch(), values((0, 120), (4, 90), (8, 30), (200, 127))) == [(UP, 8), (DOWN, 200)]
    assert read(FootSwitch(), values((0, 100), (200, 0), (400, 100))) == [(DOWN, 30), (UP, 200), (DOWN, 400)]
    assert read(FootSwitch(), values((0, 100), (9, 100), (200, 0))) == [(DOWN, 30), (UP, 200)]
    assert read(FootSwitch(inverted=True), values((0, 7), (4, 37), (8, 97))) == [(UP, 8)]
    assert read(FootSwitch(), values((0, 127))) == [(DOWN, 0)]
    foot = FootReader(FootSwitch())
    message = parse(control(0, 64, 100))
    assert isinstance(message, ChannelMessage)
    assert foot.read(message, 0) == []
    assert foot.next_due == 30 * NS_PER_MS


def test_a_bouncing_contact_is_one_press_at_its_first_touch() -> None:
    script = values((0, 127), (3, 0), (5, 127), (9, 0), (12, 127), (200, 0), (204, 127), (206, 0))
    assert read(FootSwitch(), script) == [(DOWN, 0), (UP, 200)]


def test_a_release_within_the_bounce_is_not_missed() -> None:
    assert read(FootSwitch(), values((0, 127), (20, 0))) == [(DOWN, 0), (UP, 30)]
    assert read(FootSwitch(), values((0, 127), (20, 0), (500, 127))) == [(DOWN, 0), (UP, 30), (DOWN, 500)]


def test_the_end_of_a_bounce_is_due() -> None:
    foot = FootReader(FootSwitch())
    message = parse(control(0, 64, 127))
    assert isinstance(message, ChannelMessage)
    foot.read(message, 0)
    assert foot.next_due is None
    up = parse(control(0, 64, 0))
    assert isinstance(up, ChannelMessage)
    assert foot.read(up, 10 * NS_PER_MS) == []
    assert foot.next_due == 30 * NS_PER_MS
    assert foot.settle(29 * NS_PER_MS) == []
    assert foot.settle(31 * NS_PER_MS) == [Edge(UP, 30 * NS_PER_MS)]
    assert foot.next_due is None


def test_each_change_of_a_latching_switch_is_a_press() -> None:
    switch = FootSwitch(action="latching")
    assert read(switch, values((0, 127), (500, 0), (900, 127))) == [(DOWN, 0), (DOWN, 500), (DOWN, 900)]
    # Its first message may be the low value, and repeating a value is no change.
    assert read(switch, values((0, 0), (300, 0), (500, 127))) == [(DOWN, 0), (DOWN, 500)]
    assert read(switch, values((0, 127), (4, 0), (8, 127))) == [(DOWN, 0)]


def test_a_press_only_switch_never_comes_up() -> None:
    switch = FootSwitch(action="press-only")
    assert read(switch, values((0, 127), (10, 127), (300, 127), (400, 0))) == [(DOWN, 0), (DOWN, 300)]


def test_notes_and_programs() -> None:
    note = FootSwitch(message="note", number=40)
    script = [
        (0, note_on(0, 40, 1)),
        (100, note_off(0, 40)),
        (200, note_on(0, 40, 9)),
        (300, b"\x90\x28\x00"),
    ]
    assert read(note, script) == [(DOWN, 0), (UP, 100), (DOWN, 200), (UP, 300)]
    assert read(FootSwitch(message="note", number=40, inverted=True), script[:2]) == [(DOWN, 100)]
    sound = FootSwitch(message="program", number=5)
    assert read(sound, [(0, program(0, 5)), (10, program(0, 5)), (400, program(0, 5))]) == [
        (DOWN, 0),
        (DOWN, 400),
    ]


@pytest.mark.parametrize(
    ("switch", "data", "port", "expected"),
    [
        (FootSwitch(), control(3, 64, 0), 7, True),
        (FootSwitch(), control(3, 65, 0), 0, False),
        (FootSwitch(number=None), control(3, 65, 0), 0, True),
        (FootSwitch(channel=2), control(3, 64, 0), 0, False),
        (FootSwitch(channel=3), control(3, 64, 0), 0, True),
        (FootSwitch(port=1), control(3, 64, 0), 0, False),
        (FootSwitch(port=1), control(3, 64, 0), 1, True),
        (FootSwitch(), note_on(0, 64, 1), 0, False),
        (FootSwitch(message="note"), note_on(0, 64, 1), 0, True),
        (FootSwitch(message="program"), program(0, 64), 0, True),
        (FootSwitch(message="program"), control(0, 64, 1), 0, False),
    ],
)
def test_only_its_own_messages_match(switch: FootSwitch, data: bytes, port: int, expected: bool) -> None:
    message = parse(data)
    assert isinstance(message, ChannelMessage)
    assert FootReader(switch).matches(port, message) is expected


def test_which_switches_can_be_held() -> None:
    assert can_be_held(FootSwitch())
    assert can_be_held(FootSwitch(message="note"))
    assert not can_be_held(FootSwitch(message="program"))
    assert not can_be_held(FootSwitch(action="latching"))
    assert not can_be_held(FootSwitch(action="press-only"))


@given(
    st.sampled_from([FootSwitch(), FootSwitch(inverted=True)]),
    st.lists(st.tuples(st.integers(0, 80), st.integers(0, 127)), max_size=30),
)
def test_a_momentary_foot_alternates_and_ends_where_the_switch_rests(
    switch: FootSwitch, steps: list[tuple[int, int]]
) -> None:
    script, ms = [(0, control(0, 64, 127 if switch.inverted else 0))], 0  # it is known to be up
    for gap, value in steps:
        ms += gap
        script.append((ms, control(0, 64, value)))
    edges = read(switch, script)
    assert [move for move, _ in edges] == [DOWN if index % 2 == 0 else UP for index in range(len(edges))]
    times = [ms for _, ms in edges]
    assert all(later - earlier >= switch.bounce_ms for earlier, later in pairwise(times))
    effective = [127 - data[2] if switch.inverted else data[2] for _, data in script]
    clear = [value for value in effective if value >= switch.on_at or value <= switch.off_at]
    rests_down = bool(clear) and clear[-1] >= switch.on_at
    assert (len(edges) % 2 == 1) == rests_down
