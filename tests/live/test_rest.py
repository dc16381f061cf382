"""What the loop does while nothing happens: its heart beats, and hardly anything else."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from introit.live.keeper import STALE_SECONDS
from introit.live.loop import HEARTBEAT_NS
from introit.live.messages import control, note_on
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

MS, SECOND = NS_PER_MS, NS_PER_SECOND
TURNS_A_SECOND = 1.1
"""Whole turns, each of which asks the session, every port and the front."""
WAKES_A_SECOND = 4.2
"""As often as the heart beats: more would be a timer that nobody needs."""


class Watched:
    """A rehearsal that notes when it takes a turn, sleeps, and lets its heart beat."""

    def __init__(self, *, ahead: int = 0, **changes: object) -> None:
        setup = replace(sketch_setup(), **changes)  # type: ignore[arg-type]
        self.one = one = Rehearsal(setup, SketchFront(), lookaheads=[ahead])
        self.turns = self.noted(one.loop, "work")
        self.sleeps = self.noted(one.clock, "wait")
        self.beats = self.noted(one.ledger, "beat")
        self.asked = self.noted(one.ports[0], "heard")

    def noted(self, of: object, name: str) -> list[int]:
        """When a method is called, from now on."""
        times: list[int] = []
        method: Callable[..., Any] = getattr(of, name)

        def call(*args: Any, **kwargs: Any) -> Any:
            times.append(self.one.clock.now())
            return method(*args, **kwargs)

        setattr(of, name, call)
        return times


Watch = Callable[..., Watched]


@pytest.fixture
def watch() -> Iterator[Watch]:
    made: list[Watched] = []

    def make(**given: Any) -> Watched:
        made.append(Watched(**given))
        return made[-1]

    yield make
    for watched in made:
        watched.one.inbox.close()


def within(times: Sequence[int], begin: int, end: int) -> list[int]:
    return [at for at in times if begin <= at < end]


def longest(times: Sequence[int]) -> int:
    """The longest pause."""
    return max(later - earlier for earlier, later in pairwise(times))


def press(at: int) -> list[tuple[int, bytes]]:
    return [(at, control(0, 64, 127)), (at + 20 * MS, control(0, 64, 0))]


@pytest.mark.parametrize("ahead", [0, 30 * MS])
@pytest.mark.parametrize("after_a_tune", [False, True])
def test_at_rest_it_takes_a_turn_a_second_and_no_heartbeat_is_left_out(
    watch: Watch, ahead: int, after_a_tune: bool
) -> None:
    watched = watch(ahead=ahead)
    one = watched.one
    one.play(press(SECOND) if after_a_tune else [])
    begin, end = 60 * SECOND, 660 * SECOND
    one.advance(end)
    assert one.session.state == ("in the tune" if after_a_tune else "ready")
    assert bool(one.receivers[0].ons()) == after_a_tune
    seconds = (end - begin) / SECOND
    assert len(within(watched.turns, begin, end)) <= TURNS_A_SECOND * seconds
    assert len(within(watched.sleeps, begin, end)) <= WAKES_A_SECOND * seconds
    assert longest(within(watched.beats, begin, end)) <= HEARTBEAT_NS < STALE_SECONDS * SECOND / 4


def test_a_press_sounds_at_once_at_whatever_time_of_the_rest_it_comes(watch: Watch) -> None:
    for ms in range(0, 2_000, 37):
        one = watch().one
        at = 30 * SECOND + ms * MS
        one.play(press(at))
        one.advance(at + SECOND)
        assert one.receivers[0].ons()[0].actual == at


@pytest.mark.parametrize("at", [31 * SECOND, 45 * SECOND + 100 * MS])
def test_that_the_machine_has_slept_is_noticed_at_the_next_heartbeat(watch: Watch, at: int) -> None:
    one = watch().one
    one.advance(at)
    one.clock.suspend(40 * SECOND)
    one.advance(at + HEARTBEAT_NS + MS)
    assert len([shown for shown in one.shown if shown.what == "slept"]) == 1


def test_a_port_that_does_not_wake_the_loop_is_asked_at_every_heartbeat(
    watch: Watch, monkeypatch: pytest.MonkeyPatch
) -> None:
    watched = watch()
    watched.one.advance(30 * SECOND)
    assert longest(within(watched.asked, 20 * SECOND, 30 * SECOND)) > HEARTBEAT_NS
    monkeypatch.setattr(watched.one.loop, "_wakes", False)
    watched.one.advance(40 * SECOND)
    assert longest(within(watched.asked, 31 * SECOND, 40 * SECOND)) <= HEARTBEAT_NS


def test_while_anything_is_owed_every_heartbeat_is_a_whole_turn(watch: Watch) -> None:
    watched = watch()
    watched.one.advance(10 * SECOND)
    watched.one.ledger.owe(0, note_on(0, 60, 64))  # as where its off has not gone out yet
    watched.one.advance(20 * SECOND)
    assert longest(within(watched.turns, 11 * SECOND, 20 * SECOND)) <= HEARTBEAT_NS
