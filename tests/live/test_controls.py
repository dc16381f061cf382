"""Controls beside the foot-switch, read as orders: whatever a switch, a pad or a pedal sends.

Messages are those of the MIDI 1.0 Detailed Specification: song select F3 and a song number, program change
Cn and a number from 0; what switches and pedals do with them is common practice (no source).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.live.controls import Controls
from introit.live.events import Heard, Ordered, Unplugged, Wanted
from introit.live.messages import control, note_off, note_on, parse, program
from introit.live.session import Session
from introit.live.setup import Control, PortSetup, Setup
from introit.units import NS_PER_MS

Said = tuple[int, bytes]
"""Milliseconds, message."""

NEXT = Control("next", number=65)
DOWN, UP = control(0, 65, 127), control(0, 65, 0)


def orders(controls: Control | tuple[Control, ...], *said: Said, port: int = 0) -> list[tuple[int, Ordered]]:
    """The orders with the milliseconds at which they were given; time goes on for a second at the end."""
    reader = Controls(controls if isinstance(controls, tuple) else (controls,))
    found: list[tuple[int, Ordered]] = []
    for ms, data in said:
        while reader.next_due is not None and reader.next_due <= ms * NS_PER_MS:
            due = reader.next_due
            found += [(due // NS_PER_MS, order) for order in reader.settle(due)]
        message = parse(data)
        assert message is not None
        found += [(ms, order) for order in reader.hear(port, message, ms * NS_PER_MS)]
    found += [(-1, order) for order in reader.settle((said[-1][0] + 1000) * NS_PER_MS)]
    return found


def times(controls: Control, *said: Said, port: int = 0) -> list[int]:
    return [ms for ms, _ in orders(controls, *said, port=port)]


def test_an_order_is_given_the_moment_the_foot_goes_down_and_not_when_it_comes_up() -> None:
    assert orders(NEXT, (0, DOWN), (200, UP), (400, DOWN)) == [(0, Ordered("next")), (400, Ordered("next"))]


def test_a_contact_that_bounces_gives_one_order() -> None:
    said = [(0, DOWN), (3, UP), (5, DOWN), (9, UP), (12, DOWN), (200, UP), (203, DOWN), (206, UP)]
    assert times(NEXT, *said) == [0]


def test_a_press_that_was_over_within_the_bounce_is_not_lost_nor_told_twice() -> None:
    assert times(NEXT, (0, DOWN), (20, UP), (500, DOWN)) == [0, 500]


def test_a_pad_that_says_again_that_it_is_down_gives_one_order() -> None:
    assert times(NEXT, (0, DOWN), (100, DOWN), (200, DOWN), (300, UP), (400, DOWN)) == [0, 400]


def test_an_inverted_switch_orders_at_its_low_value() -> None:
    assert times(replace(NEXT, inverted=True), (0, DOWN), (100, UP), (300, DOWN), (500, UP)) == [100, 500]


def test_each_change_of_a_latching_switch_is_an_order() -> None:
    latching = replace(NEXT, action="latching")
    assert times(latching, (0, UP), (300, UP), (500, DOWN), (900, UP)) == [0, 500, 900]


def test_a_press_only_switch_needs_no_release() -> None:
    assert times(replace(NEXT, action="press-only"), (0, DOWN), (300, DOWN), (600, DOWN)) == [0, 300, 600]


def test_half_way_values_change_nothing() -> None:
    values = [(0, 60), (100, 71), (200, 72), (300, 57), (400, 71), (500, 56), (600, 64), (700, 90)]
    assert times(NEXT, *((ms, control(0, 65, value)) for ms, value in values)) == [200, 700]


def test_thresholds_of_a_switches_own() -> None:
    shallow = replace(NEXT, on_at=1, off_at=0)
    down = control(0, 65, 1)
    assert times(shallow, (0, UP), (50, down), (100, UP), (200, down)) == [50, 200]


@pytest.mark.parametrize(
    ("wanted", "data", "port", "given_"),
    [
        (NEXT, DOWN, 3, True),
        (replace(NEXT, port=1), DOWN, 1, True),
        (replace(NEXT, port=1), DOWN, 0, False),
        (replace(NEXT, channel=0), DOWN, 0, True),
        (replace(NEXT, channel=1), DOWN, 0, False),
        (NEXT, control(0, 66, 127), 0, False),
        (NEXT, note_on(0, 65, 100), 0, False),
        (Control("next", message="note", number=36), note_on(9, 36, 1), 0, True),
        (Control("next", message="note", number=36), note_off(9, 36), 0, False),
        (Control("next", message="note", number=36), note_on(9, 37, 1), 0, False),
        (Control("next", message="program", number=4), program(2, 4), 0, True),
        (Control("next", message="program", number=4), program(2, 5), 0, False),
        (Control("next", message="program", number=4, channel=3), program(2, 4), 0, False),
    ],
)
def test_only_its_own_message_is_heard(wanted: Control, data: bytes, port: int, given_: bool) -> None:
    assert bool(orders(wanted, (0, data), port=port)) is given_


def test_a_program_change_orders_each_time_as_it_has_no_release() -> None:
    four = Control("another intro", message="program", number=4)
    assert times(four, (0, program(0, 4)), (200, program(0, 4))) == [0, 200]


def test_a_switch_for_one_tune_and_mutes_carry_their_value() -> None:
    third = Control("tune", number=65, value=2)
    assert orders(third, (0, DOWN)) == [(0, Ordered("tune", 0, 2))]
    off = Control("mute", number=65, part=2, value=1)
    assert orders(off, (0, DOWN), (99, UP)) == [(0, Ordered("mute", 2, 1))]
    over = Control("mute", number=65, part=2)
    assert orders(over, (0, DOWN)) == [(0, Ordered("mute", 2, -1))]


def test_programs_and_songs_are_tunes_by_their_number() -> None:
    both = (Control("tune", message="program"), Control("tune", message="song select"))
    assert orders(both, (0, program(5, 0)), (10, program(5, 127)), (20, b"\xf3\x02")) == [
        (0, Ordered("tune", 0, 0)), (10, Ordered("tune", 0, 127)), (20, Ordered("tune", 0, 2)),
    ]  # fmt: skip
    assert orders(replace(both[0], channel=4), (0, program(5, 1)), (1, program(4, 3))) == [
        (1, Ordered("tune", 0, 3))
    ]
    assert orders(replace(both[1], port=1), (0, b"\xf3\x02")) == []
    assert orders(both, (0, b"\xf8"), (1, b"\xf2\x01\x00"), (2, b"\xfe"), (3, control(5, 0, 1))) == []


LEVEL = Control("level", number=11, part=1)


def levels(wanted: Control, *values: int) -> list[int]:
    said = [(ms, control(0, 11, value)) for ms, value in enumerate(values)]
    return [order.value for _, order in orders(wanted, *said)]


def test_a_level_pedal_that_repeats_itself_orders_what_is_new() -> None:
    assert levels(LEVEL, 0, 0, 1, 1, 1, 127, 127, 0) == [0, 1, 127, 0]
    assert orders(LEVEL, (0, control(7, 11, 9))) == [(0, Ordered("level", 1, 9))]


def test_a_level_pedal_the_other_way_round() -> None:
    assert levels(replace(LEVEL, inverted=True), 0, 1, 127) == [127, 126, 0]


def test_a_level_pedal_that_reaches_neither_end() -> None:
    short = replace(LEVEL, low=4, high=120)
    assert levels(short, 0, 4, 62, 120, 127) == [0, 64, 127]
    assert levels(replace(short, inverted=True), 4, 120) == [127, 0]


def test_one_pedal_for_two_parts() -> None:
    both = (LEVEL, replace(LEVEL, part=2))
    given_ = orders(both, (0, control(0, 11, 5)), (1, control(0, 11, 5)), (2, control(0, 11, 6)))
    assert [(order.part, order.value) for _, order in given_] == [(1, 5), (2, 5), (1, 6), (2, 6)]


@given(
    st.integers(0, 126).flatmap(lambda low: st.tuples(st.just(low), st.integers(low + 1, 127))),
    st.booleans(),
)
def test_levels_rise_over_the_whole_range_without_a_jump_back(ends: tuple[int, int], inverted: bool) -> None:
    low, high = ends
    given_ = levels(replace(LEVEL, low=low, high=high, inverted=inverted), *range(low, high + 1))
    assert (given_[0], given_[-1]) == ((127, 0) if inverted else (0, 127))
    assert all((after < before) is inverted for before, after in pairwise(given_))


def test_unplugged_while_down_it_is_up_when_it_comes_back() -> None:
    reader = Controls((replace(NEXT, port=0),))
    down = parse(DOWN)
    assert down is not None
    assert len(reader.hear(0, down, 0)) == 1
    reader.unplugged(1)  # another cable
    assert reader.hear(0, down, 1_000 * NS_PER_MS) == []
    reader.unplugged(0)
    assert len(reader.hear(0, down, 2_000 * NS_PER_MS)) == 1


def test_unplugged_within_a_bounce_nothing_is_left_to_come() -> None:
    reader = Controls((NEXT,))
    for ms, data in ((0, DOWN), (10, UP)):
        message = parse(data)
        assert message is not None
        reader.hear(0, message, ms * NS_PER_MS)
    assert reader.next_due == 30 * NS_PER_MS
    reader.unplugged(0)
    assert reader.next_due is None
    assert reader.settle(100 * NS_PER_MS) == []


def test_in_a_session_a_control_pulled_out_while_down_can_be_pressed_again() -> None:
    setup = Setup(
        ports=(PortSetup("floor", "memory", source=""),),
        routes=(),
        tunes=3,
        controls=(replace(NEXT, port=0),),
    )
    session = Session(setup, (0,))
    asked = []
    for ms, event in (
        (0, Heard(0, 0, DOWN)),
        (500, Unplugged(0, "Floor", sends=False)),
        (1000, Heard(0, 1000 * NS_PER_MS, DOWN)),
    ):
        session.hear(event, ms * NS_PER_MS)
        asked += [effect for effect in session.take(ms * NS_PER_MS) if isinstance(effect, Wanted)]
    assert [wanted.request.tune for wanted in asked] == [0, 1, 2]
