"""The first sound of an evening comes softly and is at its level a second later; no note is lost in it."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from introit.live.events import Ordered, Sent
from introit.live.messages import CHANNEL_VOLUME, control
from introit.live.rise import LOW, RISE_NS, STEPS, Rise
from introit.live.setup import Route
from introit.performance import PARTS, PlayedNote
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

MS, SECOND = NS_PER_MS, NS_PER_SECOND
COMP, CUE = PARTS.index("comp"), PARTS.index("cue")
LEVELS = {0: 100, 1: 90, 2: 100}
"""Of the sketch's channels, as its setup names them."""


def evening(*presses: int, ahead: int = 0, front: SketchFront | None = None, **changes: object) -> Rehearsal:
    setup = sketch_setup(**{"gentle_start": True, **changes})
    rehearsal = Rehearsal(setup, front or SketchFront(), lookaheads=[ahead])
    for ms in presses:
        rehearsal.play([(ms * MS, control(0, 64, 127)), ((ms + 50) * MS, control(0, 64, 0))])
    return rehearsal


def volumes(rehearsal: Rehearsal, channel: int) -> list[tuple[int, int]]:
    """(nanosecond, controller 7) of a channel, in the order in which they went out."""
    return [
        (sent.actual, sent.data[2])
        for sent in rehearsal.sent
        if sent.data[:2] == bytes((0xB0 | channel, CHANNEL_VOLUME))
    ]


def ons(rehearsal: Rehearsal) -> list[Sent]:
    return rehearsal.receivers[0].ons()


@pytest.mark.parametrize("ahead", [0, 30 * MS])
def test_it_begins_at_half_the_value_and_is_at_the_level_a_second_later(ahead: int) -> None:
    rehearsal = evening(1000, ahead=ahead)
    rehearsal.run(8 * SECOND)
    begun = min(on.actual for on in ons(rehearsal))
    for channel, level in LEVELS.items():
        told = volumes(rehearsal, channel)
        values = [value for _, value in told]
        assert values[0] == level * LOW
        assert values == sorted(values)
        assert values[-1] == level
        assert len(values) == 1 + STEPS
        assert told[0][0] <= begun < told[1][0]
        assert told[-1][0] <= begun + RISE_NS


def test_the_first_note_is_twelve_decibels_down_and_no_step_is_more_than_two() -> None:
    """General MIDI 2's recommended curve of controller 7: 40 log10(value / 127) dB (from memory)."""
    rehearsal = evening(1000)
    rehearsal.run(8 * SECOND)
    values = [value for _, value in volumes(rehearsal, 0)]
    decibels = [40 * math.log10(value / 100) for value in values]
    assert decibels[0] == pytest.approx(-12, abs=0.1)
    steps = [after - before for before, after in pairwise(decibels)]
    assert max(steps) < 2.2


def test_no_note_is_lost_or_later_than_without() -> None:
    plain, gentle = (evening(1000, gentle_start=wished) for wished in (False, True))
    for rehearsal in (plain, gentle):
        rehearsal.run(8 * SECOND)
    assert [(on.actual, on.data) for on in ons(gentle)] == [(on.actual, on.data) for on in ons(plain)]


def test_the_second_start_is_at_its_level() -> None:
    rehearsal = evening(1000, 9000, 9200, 10_000)
    rehearsal.run(16 * SECOND)
    assert max(on.actual for on in ons(rehearsal)) > 10 * SECOND
    assert volumes(rehearsal, 0)[-1][0] <= 2 * SECOND


def test_a_sound_check_is_a_first_sound() -> None:
    rehearsal = evening()
    rehearsal.say(SECOND, Ordered("sound check"))
    rehearsal.say(3 * SECOND, Ordered("sound check"))
    rehearsal.play([(5 * SECOND, control(0, 64, 127))])
    rehearsal.run(12 * SECOND)
    assert volumes(rehearsal, 0)[-1][0] <= 2 * SECOND


@pytest.mark.parametrize("ahead", [0, 30 * MS])
def test_what_is_silenced_on_the_way_begins_softly_again(ahead: int) -> None:
    rehearsal = evening(1000, 3000, ahead=ahead)
    rehearsal.say(1500 * MS, Ordered("silence"))
    rehearsal.run(10 * SECOND)
    told = volumes(rehearsal, 0)
    low = [ns for ns, value in told if value == 50]
    assert len(low) == 2
    assert 1500 * MS <= low[1] <= 1500 * MS + ahead
    assert told[-1] == (told[-1][0], 100)
    assert 3900 * MS <= told[-1][0] <= 4 * SECOND + ahead


def test_who_never_played_is_left_at_the_level_asked_for() -> None:
    for ahead in (0, 30 * MS):
        rehearsal = evening(ahead=ahead)
        rehearsal.run(3 * SECOND)
        assert [value for _, value in volumes(rehearsal, 1)] == [45, 90]


def test_a_level_that_nobody_names_is_left_alone() -> None:
    rehearsal = evening(1000, routes=(Route(COMP, 0, 1),))
    rehearsal.run(8 * SECOND)
    assert volumes(rehearsal, 1) == []


def test_it_rises_to_the_ceiling_and_no_further() -> None:
    rehearsal = evening(1000, routes=(Route(COMP, 0, 1, level=120, level_at_most=80),))
    rehearsal.run(8 * SECOND)
    values = [value for _, value in volumes(rehearsal, 1)]
    assert (values[0], values[-1]) == (40, 80)


def test_a_cue_brings_up_its_own_channel_alone() -> None:
    setup = sketch_setup()
    note = (PlayedNote(0, 1920, 0, CUE, 60, 48),)
    routes = (*setup.routes, Route(CUE, 0, 4, level=80))
    rehearsal = evening(5000, routes=routes, front=SketchFront(changes={"first_note": note}))
    rehearsal.say(SECOND, Ordered("first note"))
    rehearsal.advance(4 * SECOND)
    assert volumes(rehearsal, 4)[-1][1] == 80
    assert [value for _, value in volumes(rehearsal, 1)] == [45]
    rehearsal.run(9 * SECOND)
    assert volumes(rehearsal, 1)[-1][1] == 90


def test_a_part_that_is_brought_in_later_rises_from_there() -> None:
    setup = sketch_setup()
    routes = tuple(replace(route, muted=route.part == COMP) for route in setup.routes)
    rehearsal = evening(1000, routes=routes)
    rehearsal.say(3 * SECOND, Ordered("mute", COMP, 0))
    rehearsal.run(8 * SECOND)
    told = volumes(rehearsal, 1)
    assert told[0] == (3 * SECOND, 45)
    assert told[-1] == (4 * SECOND, 90)


def test_channels_rise_one_after_the_other_so_that_a_cable_is_never_full() -> None:
    rise = Rise()
    places = [(0, channel) for channel in range(6)]
    for place in places:
        rise.level(place, 100)
    rise.begin(0)
    told = rise.take(0, RISE_NS)
    gaps = [after - before for (before, _), (after, _) in pairwise(told)]
    assert len(told) == len(places) * STEPS
    assert min(gaps) > 10 * MS
    assert rise.low == []
    assert rise.next_due(0) is None
