"""The system clock: its own offset, exact deadlines, waits that can be ended."""

from __future__ import annotations

import time

from introit.live.clock import SystemClock
from introit.live.events import Heard
from introit.live.inbox import Inbox


def test_never_goes_back_and_is_no_other_clock() -> None:
    clock, other = SystemClock(), SystemClock()
    readings = [clock.now() for _ in range(100)]
    assert readings == sorted(readings)
    assert abs(clock.now() - other.now()) > 1_000_000_000  # random: one in 100 million runs would fail
    assert SystemClock(offset=0).now() - time.monotonic_ns() < 1_000_000_000


def test_a_deadline_in_the_past_ends_at_once_and_a_near_one_after_it() -> None:
    clock, inbox = SystemClock(), Inbox()
    clock.wait(clock.now() - 1_000_000_000, inbox)
    deadline = clock.now() + 300_000
    clock.wait(deadline, inbox)
    assert clock.now() >= deadline
    inbox.close()


def test_what_is_in_the_inbox_ends_any_wait() -> None:
    clock, inbox = SystemClock(), Inbox()
    inbox.put(Heard(0, 0, b"\xfe"))
    begin = clock.now()
    clock.wait(begin + 3_600_000_000_000, inbox)
    clock.wait(None, inbox)
    assert clock.now() < begin + 3_600_000_000_000
    inbox.close()
