"""The ledger counts what is owed, in memory that another reader understands."""

from __future__ import annotations

import struct
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.errors import PlayerError
from introit.live.ledger import LEFT, OPENING, RUNNING, Ledger
from introit.live.messages import (
    CLOCK,
    CONTINUE,
    START,
    STOP,
    control,
    note_off,
    note_on,
    program,
    song_position,
)


def made(ports: int = 2) -> tuple[Ledger, bytearray]:
    buffer = bytearray(Ledger.size(ports) + 100)  # shared memory comes in whole pages
    return Ledger.create(buffer, ports), buffer


def test_owes_from_the_hand_over_until_it_is_paid() -> None:
    ledger, _ = made()
    ledger.owe(1, note_on(3, 60, 90))
    ledger.owe(1, note_on(3, 60, 90))
    ledger.owe(1, note_on(15, 127, 1))
    assert ledger.owed(1) == [(3, 60, 2), (15, 127, 1)]
    assert ledger.owed(0) == []
    ledger.paid(1, note_off(3, 60))
    ledger.paid(1, b"\x9f\x7f\x00")  # a note-on with velocity 0 is a note-off
    assert ledger.owed(1) == [(3, 60, 1)]
    ledger.withdrawn(1, note_on(3, 60, 90))
    assert ledger.owed(1) == []


def test_other_messages_change_nothing() -> None:
    ledger, _ = made()
    for data in (control(0, 60, 90), program(0, 60), b"\xfe", b"", b"\x90\x3c\x00", note_off(0, 60)):
        ledger.owe(0, data)
        ledger.withdrawn(0, data)
    assert ledger.owed(0) == []
    ledger.owe(0, note_on(0, 60, 90))
    for data in (control(0, 60, 0), program(0, 60), b"\xfe", note_on(0, 60, 90)):
        ledger.paid(0, data)
    assert ledger.owed(0) == [(0, 60, 1)]


def test_saturates_and_never_falls_below_nothing() -> None:
    ledger, _ = made(1)
    for _ in range(300):
        ledger.owe(0, note_on(0, 0, 1))
    assert ledger.owed(0) == [(0, 0, 255)]
    for _ in range(300):
        ledger.paid(0, note_off(0, 0))
        ledger.withdrawn(0, note_on(0, 0, 1))
    assert ledger.owed(0) == []


def test_layout_is_the_documented_one() -> None:
    ledger, buffer = made(2)
    assert ledger.state == OPENING
    ledger.state = RUNNING
    ledger.beat("player", 2**62)
    ledger.beat("front", 7)
    ledger.owe(1, note_on(2, 5, 64))
    ledger.owe(0, CONTINUE)
    # Read with struct alone, as another process could.
    assert struct.unpack_from("<8sHHIQQ", buffer) == (b"introled", 2, 2, RUNNING, 2**62, 7)
    assert buffer[32 + 1 * 2048 + 2 * 128 + 5] == 1
    assert buffer[32 + 2 * 2048 : 32 + 2 * 2048 + 2] == b"\x01\x00"
    assert sum(buffer[32:]) == 2


def test_a_stop_is_owed_from_start_or_continue_on_until_it_has_gone_out() -> None:
    ledger, buffer = made()
    for data in (CLOCK, STOP, song_position(3), control(0, 1, 1), note_on(0, 60, 90)):
        ledger.owe(1, data)
    assert not ledger.leads(1)
    for data in (START, CONTINUE, START):
        ledger.owe(1, data)
        assert Ledger(buffer).leads(1)
        assert not ledger.leads(0)
        ledger.owe(1, STOP)  # handed over is not gone out
        ledger.paid(1, CLOCK)
        assert ledger.leads(1)
        ledger.stopped(1)
        assert not ledger.leads(1)
    ledger.owe(1, START)
    ledger.forget(1)
    assert not Ledger(buffer).leads(1)


def test_another_reader_sees_the_same_and_both_let_go() -> None:
    ledger, buffer = made()
    ledger.owe(0, note_on(0, 60, 90))
    other = Ledger(buffer)
    assert other.owed(0) == [(0, 60, 1)]
    ledger.beat("player", 5)
    assert (other.last_beat("player"), other.last_beat("front")) == (5, 0)
    ledger.state = LEFT
    assert other.state == LEFT
    other.forget(0)
    assert ledger.owed(0) == []
    for one in (ledger, other, other):
        one.close()
    buffer.extend(b"")  # a bytearray that is still viewed cannot be resized
    buffer.append(0)


def test_what_holds_no_ledger_is_refused() -> None:
    with pytest.raises(PlayerError, match="no ledger"):
        Ledger(bytearray(100))


@given(
    st.lists(st.tuples(st.sampled_from(["owe", "paid", "withdrawn"]), st.integers(0, 1), st.integers(0, 3)))
)
def test_agrees_with_a_plain_count(steps: list[tuple[str, int, int]]) -> None:
    ledger, _ = made()
    counted: Counter[tuple[int, int, int]] = Counter()
    for what, port, pitch in steps:
        if what == "owe":
            ledger.owe(port, note_on(0, pitch, 1))
            counted[port, 0, pitch] += 1
        else:
            data = note_off(0, pitch) if what == "paid" else note_on(0, pitch, 1)
            getattr(ledger, what)(port, data)
            counted[port, 0, pitch] = max(0, counted[port, 0, pitch] - 1)
    for port in (0, 1):
        assert ledger.owed(port) == [(0, p, counted[port, 0, p]) for p in range(4) if counted[port, 0, p]]
