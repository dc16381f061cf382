"""The machine is suspended in mid-intro: by our clock no time passes, and yet nothing goes on as if so."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from introit.live.clock import suspended_ns
from introit.live.events import Ordered, Slept
from introit.live.messages import EXPRESSION, control, program
from introit.live.setup import ClockLead, Lamp
from introit.live.suspend import LEAST_NS, LOOK_BACK_NS, REPEATS_NS, Suspend
from introit.performance import Performance, PlayedNote
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

MS, SECOND = NS_PER_MS, NS_PER_SECOND
PRESS = 1 * SECOND
ASLEEP = 40 * SECOND

Band = Callable[..., Rehearsal]


@pytest.fixture
def band() -> Iterator[Band]:
    """Makes rehearsals on an immediate port, or one that looks ahead, with a press at one second."""
    made: list[Rehearsal] = []

    def make(front: SketchFront | None = None, *, ahead: int = 0, **changes: object) -> Rehearsal:
        setup = replace(sketch_setup(), **changes)  # type: ignore[arg-type]
        made.append(Rehearsal(setup, front or SketchFront(), lookaheads=[ahead]))
        made[-1].play([(PRESS, control(0, 64, 127)), (PRESS + 50 * MS, control(0, 64, 0))])
        return made[-1]

    yield make
    for one in made:
        one.inbox.close()


def sleep(rehearsal: Rehearsal, at: int) -> None:
    """The machine sleeps at a time that nothing is planned for, and the loop wakes with it."""
    rehearsal.clock.at(at, lambda: rehearsal.clock.suspend(ASLEEP))


@pytest.mark.parametrize("ahead", [0, 30 * MS])
def test_what_sounds_ends_as_it_wakes_and_nothing_goes_on(band: Band, ahead: int) -> None:
    rehearsal = band(ahead=ahead)
    at = PRESS + 1_130 * MS
    sleep(rehearsal, at)
    rehearsal.advance(at - 1)
    assert rehearsal.receivers[0].sounding
    rehearsal.advance(at)
    assert rehearsal.session.state == "ready"
    rehearsal.advance(at + ahead)
    assert not rehearsal.receivers[0].sounding
    struck = len(rehearsal.receivers[0].ons())
    rehearsal.advance(at + 10 * SECOND)
    assert len(rehearsal.receivers[0].ons()) == struck
    (told,) = [shown for shown in rehearsal.shown if shown.what == "slept"]
    assert told.text == "the machine slept for 40 s: all is silent, and a press begins anew"
    assert (told.state, told.title) == ("ready", "A Sketch")


def test_a_note_that_was_due_as_it_fell_asleep_is_not_struck_as_it_wakes(band: Band) -> None:
    rehearsal = band()
    beat = PRESS + 1_000 * MS
    sleep(rehearsal, beat)  # the loop waits for this very moment
    rehearsal.advance(beat)
    assert [on for on in rehearsal.receivers[0].ons() if on.actual >= beat] == []
    assert not rehearsal.receivers[0].sounding


def test_a_press_that_wakes_it_starts_the_tune(band: Band) -> None:
    rehearsal = band()
    at = PRESS + 1_130 * MS
    sleep(rehearsal, at)
    rehearsal.play([(at, control(0, 64, 127))])
    rehearsal.advance(at + 1)
    assert rehearsal.states()[-2:] == [(at, "ready"), (at, "playing")]


def test_offs_are_repeated_for_a_while_and_cut_nothing_that_is_struck_meanwhile(band: Band) -> None:
    rehearsal = band()
    at = PRESS + 1_130 * MS
    sleep(rehearsal, at)
    rehearsal.advance(at - 1)
    sounding = set(rehearsal.receivers[0].sounding)
    rehearsal.advance(at + 3 * SECOND)
    for after in REPEATS_NS:
        again = {
            (sent.data[0] & 15, sent.data[1])
            for sent in rehearsal.receivers[0].offs()
            if sent.actual == at + after
        }
        assert sounding <= again, after

    rehearsal = band()
    sleep(rehearsal, at)
    rehearsal.play([(at + 10 * MS, control(0, 64, 127))])
    rehearsal.advance(at + 11 * MS)
    begun = set(rehearsal.receivers[0].sounding)
    assert begun
    rehearsal.advance(at + REPEATS_NS[0] + 1)
    assert begun <= set(rehearsal.receivers[0].sounding)


RINGS = PlayedNote(0, 6 * 1920, 0, 1, 64, 70)
"""A note over the head's downbeat."""


def ringing(performance: Performance) -> dict[str, object]:
    return {"notes": (RINGS,), "end_tick": performance.head_tick + 1920}


@pytest.mark.parametrize(
    ("changes", "state"),
    [
        ({"start_tick": -3840}, "counting off"),
        ({"tapped": True}, "tapping"),
        ({"vamp": (0, 7680)}, "vamping"),
    ],
)
def test_whatever_state_it_slept_in_it_is_ready_with_the_tune(
    band: Band, changes: dict[str, object], state: str
) -> None:
    rehearsal = band(SketchFront(changes=changes))
    rehearsal.advance(PRESS + 100 * MS)
    assert rehearsal.session.state == state
    rehearsal.clock.suspend(ASLEEP)
    rehearsal.advance(PRESS + 400 * MS)
    assert rehearsal.session.state == "ready"
    rehearsal.advance(PRESS + 20 * SECOND)
    assert rehearsal.session.state == "ready"
    assert not rehearsal.receivers[0].sounding


def test_a_tune_that_it_slept_in_is_ready_again_and_its_clock_is_stopped(band: Band) -> None:
    rehearsal = band(lead=ClockLead(0))
    rehearsal.advance(PRESS + 6 * SECOND)
    assert rehearsal.session.state == "in the tune"
    rehearsal.clock.suspend(ASLEEP)
    rehearsal.advance(PRESS + 7 * SECOND)
    assert rehearsal.session.state == "ready"
    transport = [sent.data for sent in rehearsal.sent if sent.data in (b"\xfa", b"\xfb", b"\xfc")]
    assert transport[-1] == b"\xfc"


def test_ports_are_told_again_how_they_sound_and_what_is_lit(band: Band) -> None:
    setup = sketch_setup()
    routes = tuple(replace(route, program=20 + route.part, level=90) for route in setup.routes)
    rehearsal = band(routes=routes, lamps=(Lamp("ready", 0, "control", 22, channel=7),), log=True)
    rehearsal.put(500 * MS, Ordered("level", part=1, value=40))
    at = PRESS + 2 * SECOND
    rehearsal.advance(at)
    before = len(rehearsal.sent)
    rehearsal.clock.suspend(ASLEEP)
    rehearsal.advance(at + SECOND)
    told = [sent.data for sent in rehearsal.sent[before:]]
    assert {program(0, 20), control(0, 7, 90), control(1, EXPRESSION, 40), control(7, 22, 127)} <= set(told)


def test_a_machine_that_cannot_tell_plays_on(band: Band) -> None:
    rehearsal = band()
    rehearsal.clock.suspended = None
    rehearsal.advance(PRESS + 6 * SECOND)
    assert [state for _, state in rehearsal.states()] == ["playing", "in the tune"]


def test_a_sleep_is_told_once_and_only_when_it_is_one() -> None:
    suspend = Suspend()
    assert suspend.look(7 * SECOND, 0) is None  # it had slept before we began
    assert suspend.look(7 * SECOND + LEAST_NS - 1, 1) is None
    assert suspend.look(None, 2) is None
    assert not suspend.has_been(None)
    assert suspend.has_been(9 * SECOND)
    assert suspend.look(9 * SECOND, 5 * SECOND) == Slept(2 * SECOND)
    assert suspend.look(9 * SECOND, 5 * SECOND) is None
    assert suspend.next_due == 5 * SECOND + REPEATS_NS[0]
    assert suspend.repeats(5 * SECOND) is None
    assert suspend.repeats(5 * SECOND + REPEATS_NS[1]) == 5 * SECOND - LOOK_BACK_NS
    assert suspend.repeats(5 * SECOND + REPEATS_NS[1]) is None
    assert suspend.next_due == 5 * SECOND + REPEATS_NS[2]


@pytest.mark.skipif(not hasattr(time, "CLOCK_BOOTTIME"), reason="no clock goes on in sleep here")
def test_the_machine_has_slept_no_longer_than_it_is_on() -> None:
    told = [one for one in (suspended_ns() for _ in range(100)) if one is not None]
    assert told, "two clocks could never be read together"
    assert -MS <= min(told) <= max(told) < time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    assert max(told) - min(told) < LEAST_NS
