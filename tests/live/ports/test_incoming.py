"""What a device may send, and how much of it is kept. Message forms: MIDI 1.0 Detailed Specification."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.live.events import Flooded, Gone, Heard, Lost
from introit.live.messages import CLOCK, START, control, note_off, note_on, program
from introit.live.ports.incoming import ALTOGETHER, FEW, OF_ONE_KIND, Incoming

DOWN, UP = control(0, 64, 127), control(0, 64, 0)


def heard(incoming: Incoming) -> list[bytes]:
    return [event.data for event in incoming.take() if isinstance(event, Heard)]


@pytest.mark.parametrize("timing", [False, True])
def test_what_nothing_reads_is_left_out_and_does_not_wake(timing: bool) -> None:
    incoming = Incoming(0, timing=timing)
    garbage = [
        b"",
        b"\x40",  # data without a status
        b"\xf0\x7e\x7f\x06\x01\xf7",  # an identity request
        b"\xf0" + bytes(65_536) + b"\xf7",
        bytes(200),  # a piece of one
        b"\x7f\xf7",
        b"\xf1\x10",  # quarter frame
        *(bytes((status,)) for status in (0xF4, 0xF5, 0xF6, 0xF7, 0xF9, 0xFD, 0xFE, 0xFF)),
        b"\xa0\x40\x40",
        b"\xd0\x40",
        b"\xe0\x00\x40",
        DOWN + DOWN,
    ]
    assert not any(incoming.hear(0, data) for data in garbage)
    assert incoming.take() == []
    assert incoming.left_out == 0


def test_the_clock_is_kept_where_it_is_followed() -> None:
    clock = [CLOCK, START, b"\xf2\x00\x01"]
    followed, other = Incoming(0, timing=True), Incoming(0, timing=False)
    assert all(followed.hear(0, data) for data in clock)
    assert not any(other.hear(0, data) for data in clock)
    assert heard(followed) == clock
    for incoming in (followed, other):
        assert incoming.hear(0, b"\xf3\x02")  # song select


def test_what_is_read_is_kept_in_order_and_given_once() -> None:
    incoming = Incoming(3, timing=False)
    messages = [DOWN, note_on(0, 60, 64), note_off(0, 60), program(1, 5), UP]
    assert all(incoming.hear(ns, data) for ns, data in enumerate(messages))
    assert incoming.take() == [Heard(3, ns, data) for ns, data in enumerate(messages)]
    assert incoming.take() == []
    assert incoming.hear(9, memoryview(DOWN))  # as a driver may have it
    assert heard(incoming) == [DOWN]


def test_a_stream_of_another_controller_takes_no_room_from_the_foot() -> None:
    incoming = Incoming(0, timing=True)
    for turn in range(100_000):
        incoming.hear(turn, control(0, 11, turn % 128))
        incoming.hear(turn, CLOCK)
    edges = [DOWN, UP] * 3
    assert all(incoming.hear(0, data) for data in edges)
    kept = heard(incoming)
    assert [data for data in kept if data[1:2] == b"\x40"] == edges
    assert len(kept) == 2 * OF_ONE_KIND + len(edges)
    assert incoming.left_out == 2 * (100_000 - OF_ONE_KIND)


def test_streams_of_everything_leave_room_for_the_foot() -> None:
    incoming = Incoming(0, timing=True)
    for turn in range(300):
        for number in range(128):
            if number != 64:
                incoming.hear(turn, control(0, number, turn % 128))
    assert incoming.hear(0, DOWN)
    assert incoming.hear(0, UP)
    kept = heard(incoming)
    assert kept[-2:] == [DOWN, UP]
    assert len(kept) <= ALTOGETHER + 2


def test_it_is_bounded_whatever_comes() -> None:
    incoming = Incoming(0, timing=True)
    for turn in range(40):
        for status in range(0x80, 0xC0):
            for number in range(128):
                incoming.hear(turn, bytes((status, number, turn)))
    kinds = 64 * 128
    assert len(heard(incoming)) <= max(ALTOGETHER, FEW * kinds) + kinds


def test_what_was_left_out_is_told_once_and_taking_makes_room() -> None:
    incoming = Incoming(2, timing=False)
    for turn in range(OF_ONE_KIND + 10):
        incoming.hear(turn, control(0, 11, 1))
    events = incoming.take()
    assert events[-1] == Flooded(2, 10)
    assert len(events) == OF_ONE_KIND + 1
    assert incoming.hear(0, control(0, 11, 2))
    assert heard(incoming) == [control(0, 11, 2)]
    for turn in range(OF_ONE_KIND + 10):
        incoming.hear(turn, control(0, 11, 1))
    assert not any(isinstance(event, Flooded) for event in incoming.take())
    assert incoming.left_out == 20


def test_what_befalls_the_port_is_always_kept() -> None:
    incoming = Incoming(0, timing=False)
    for turn in range(2 * ALTOGETHER):
        incoming.hear(turn, bytes((0xB0, turn % 128, turn // 128 % 128)))
    news = [Lost(0, 1, 2), Gone(0, "pulled")]
    for event in news:
        incoming.tell(event)
    assert [event for event in incoming.take() if isinstance(event, Lost | Gone)] == news


@given(st.lists(st.one_of(st.binary(max_size=5), st.just(DOWN), st.just(UP)), max_size=200))
def test_any_bytes_are_borne_and_no_edge_of_the_foot_is_lost(messages: list[bytes]) -> None:
    incoming = Incoming(0, timing=True)
    for ns, data in enumerate(messages):
        incoming.hear(ns, data)
    edges = [data for data in messages if data in (DOWN, UP)]
    assert [data for data in heard(incoming) if data in (DOWN, UP)] == edges
