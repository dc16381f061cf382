"""The fake clock moves only when told, or to the next deadline of a wait."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from introit.live.events import Heard
from introit.live.inbox import Inbox
from introit.testing import FakeClock


@pytest.fixture
def inbox() -> Iterator[Inbox]:
    inbox = Inbox()
    yield inbox
    inbox.close()


def test_starts_at_0_and_reading_does_not_move_it() -> None:
    clock = FakeClock()
    assert [clock.now() for _ in range(3)] == [0, 0, 0]
    clock.jump(5)
    assert clock.now() == 5


def test_does_not_go_back() -> None:
    clock = FakeClock()
    clock.jump(5)
    with pytest.raises(ValueError, match="does not go back"):
        clock.jump(4)
    with pytest.raises(ValueError, match="does not go back"):
        clock.at(4, lambda: None)


def test_a_wait_ends_at_its_deadline_or_at_what_was_planned_before(inbox: Inbox) -> None:
    clock, done = FakeClock(), []
    clock.at(30, lambda: done.append(clock.now()))
    clock.at(10, lambda: done.append(clock.now()))
    clock.wait(5, inbox)
    assert (clock.now(), done) == (5, [])
    clock.wait(50, inbox)
    assert (clock.now(), done) == (10, [10])
    clock.wait(None, inbox)
    assert (clock.now(), done) == (30, [10, 30])
    clock.wait(20, inbox)
    assert clock.now() == 30


def test_what_is_in_the_inbox_ends_a_wait_where_it_is(inbox: Inbox) -> None:
    clock = FakeClock()
    inbox.put(Heard(0, 0, b"\xfe"))
    clock.wait(50, inbox)
    assert clock.now() == 0


def test_waiting_for_ever_is_an_error_and_not_a_hang(inbox: Inbox) -> None:
    with pytest.raises(RuntimeError, match="for ever"):
        FakeClock().wait(None, inbox)


def test_a_wait_can_end_late(inbox: Inbox) -> None:
    clock, done = FakeClock(), []
    clock.lateness = lambda deadline: deadline
    clock.at(15, lambda: done.append(clock.now()))
    clock.wait(10, inbox)
    assert (clock.now(), done) == (20, [15])
