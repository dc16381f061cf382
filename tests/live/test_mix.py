"""The mix: a part that the rig mutes comes in by an order, and a new player goes on with what orders made."""

from __future__ import annotations

import os
import signal
from dataclasses import replace
from typing import Any

import pytest

from introit.live.events import Ordered, Played, Sent, Shown, Wanted
from introit.live.keeper import Keeper, PlayerLeft
from introit.live.messages import CHANNEL_VOLUME, EXPRESSION, control, program
from introit.live.mix import Faders, Mix
from introit.live.setup import Route, Setup
from introit.performance import PARTS
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

MS, SECOND = NS_PER_MS, NS_PER_SECOND
COMP, BASS, CUE = PARTS.index("comp"), PARTS.index("bass"), PARTS.index("cue")
PRESS = SECOND
FOOT = [(PRESS, control(0, 64, 127)), (PRESS + 50 * MS, control(0, 64, 0))]


def closed(setup: Setup, part: int, **sound: int) -> Setup:
    """The setup with one part muted by the rig."""
    routes = (replace(r, muted=True, **sound) if r.part == part else r for r in setup.routes)
    return replace(setup, routes=tuple(routes))


def rehearsed(setup: Setup, *orders: tuple[int, Ordered], ahead: int = 0) -> Rehearsal:
    rehearsal = Rehearsal(setup, SketchFront(), lookaheads=[ahead])
    rehearsal.play(FOOT)
    for ns, order in orders:
        rehearsal.say(ns, order)
    rehearsal.run(PRESS + 8 * SECOND)
    return rehearsal


def on_channel(rehearsal: Rehearsal, channel: int) -> list[Sent]:
    return [s for s in rehearsal.sent if s.data[0] < 0xF0 and s.data[0] & 15 == channel]


def is_on(sent: Sent) -> bool:
    return sent.data[0] & 0xF0 == 0x90


def test_nothing_at_all_is_told_to_the_channel_of_a_part_that_the_rig_mutes() -> None:
    setup = closed(sketch_setup(), COMP, program=26, level=90)
    done = rehearsed(setup, (500 * MS, Ordered("level", COMP, 40)))
    assert on_channel(done, 1) == []
    assert [s for s in on_channel(done, 2) if is_on(s)], "the others play"


@pytest.mark.parametrize("ahead", [0, 30 * MS])
def test_an_order_brings_it_in_with_its_sound_told_first(ahead: int) -> None:
    setup = closed(sketch_setup(), COMP, program=26, level=90)
    at = PRESS + 1_100 * MS
    done = rehearsed(setup, (500 * MS, Ordered("level", COMP, 40)), (at, Ordered("mute", COMP)), ahead=ahead)
    heard = on_channel(done, 1)
    first = next(place for place, sent in enumerate(heard) if is_on(sent))
    before = {sent.data for sent in heard[:first]}
    assert before == {program(1, 26), control(1, CHANNEL_VOLUME, 90), control(1, EXPRESSION, 40)}
    assert at <= heard[0].actual
    assert not done.receivers[0].sounding
    assert done.mix == Mix(muted=(PARTS.index("click"),), levels=((COMP, 40),))


def test_it_can_go_and_come_as_any_other_part() -> None:
    setup = closed(sketch_setup(), COMP)
    out = (PRESS + 2_500 * MS, Ordered("mute", COMP))
    done = rehearsed(setup, (500 * MS, Ordered("mute", COMP, 0)), out)
    struck = [sent.actual for sent in on_channel(done, 1) if is_on(sent)]
    assert struck
    assert max(struck) <= out[0]
    assert [shown.text for shown in done.shown if shown.what == "note"] == [
        "comp is heard again",
        "comp muted",
    ]


def test_a_cue_that_is_muted_says_so() -> None:
    cue = Route(CUE, 0, 4, muted=True)
    setup = sketch_setup()
    front = SketchFront(changes={"first_note": sketch_note()})
    rehearsal = Rehearsal(replace(setup, routes=(*setup.routes, cue)), front)
    rehearsal.say(PRESS, Ordered("first note"))
    rehearsal.say(2 * PRESS, Ordered("mute", CUE, 0))
    rehearsal.say(3 * PRESS, Ordered("first note"))
    rehearsal.run(5 * PRESS)
    assert [shown.text for shown in rehearsal.shown if shown.what == "note"] == [
        "the cue is muted",
        "cue is heard again",
    ]
    assert [sent.actual for sent in on_channel(rehearsal, 4) if is_on(sent)] == [3 * PRESS]


def sketch_note() -> tuple[Any, ...]:
    from introit.performance import PlayedNote

    return (PlayedNote(0, 480, 0, CUE, 67, 50),)


@pytest.mark.parametrize("ahead", [0, 30 * MS])
def test_a_player_that_takes_over_begins_with_the_mix_of_the_one_before(ahead: int) -> None:
    mix = Mix(muted=(BASS,), levels=((COMP, 30),))
    setup = replace(closed(sketch_setup(), COMP), mix=mix)
    assert Setup.from_json(setup.to_json()) == setup
    done = rehearsed(setup, ahead=ahead)
    assert not [sent for sent in on_channel(done, 2) if is_on(sent)]
    comp = on_channel(done, 1)
    first = next(place for place, sent in enumerate(comp) if is_on(sent))
    assert control(1, EXPRESSION, 30) in {sent.data for sent in comp[:first]}


def test_of_parts_that_share_a_channel_the_level_that_was_set_last_counts() -> None:
    faders = Faders((Route(0, 0, 3), Route(1, 0, 3), Route(2, 0, 4)))
    for part, value in ((0, 10), (1, 20), (2, 30), (0, 40)):
        faders.set_level(part, value)
    assert faders.levels(lambda _: True) == [((0, 3), 40), ((0, 4), 30)]
    again = Faders((Route(0, 0, 3), Route(1, 0, 3)), Mix.from_json(faders.mix.to_json()))
    assert again.levels(lambda _: True) == [((0, 3), 40)]


def test_a_route_that_is_muted_beside_an_open_one_of_its_part_stays_so() -> None:
    setup = sketch_setup()
    both = replace(setup, routes=(*setup.routes, Route(COMP, 0, 7, muted=True)))
    done = rehearsed(both, (500 * MS, Ordered("mute", COMP, 1)), (600 * MS, Ordered("mute", COMP, 0)))
    assert on_channel(done, 7) == []
    assert [s for s in on_channel(done, 1) if is_on(s)]


def told_until(keeper: Keeper, found: Any) -> list[Any]:
    told: list[Any] = []
    front = SketchFront(tempo=240)
    for _ in range(400):
        for one in keeper.receive(0.05):
            told.append(one)
            for reply in front(one) if isinstance(one, Wanted) else ():
                keeper.send(reply)
        if any(map(found, told)):
            return told
    raise AssertionError(f"not told; but {told}")


def test_a_killed_players_successor_has_its_mutes_and_levels_twice_over() -> None:
    """With real processes, and a port in memory."""
    keeper = Keeper(sketch_setup())
    keeper.start()
    try:
        told_until(keeper, lambda told: isinstance(told, Shown) and told.what == "key")
        keeper.send(Ordered("level", BASS, 40))
        keeper.send(Ordered("mute", COMP, 1))
        told_until(keeper, lambda told: isinstance(told, Shown) and told.text == "comp muted")
        for _ in range(2):
            os.kill(keeper.pid or 0, signal.SIGKILL)
            told_until(keeper, lambda told: isinstance(told, PlayerLeft) and told.restarted)
            told = told_until(keeper, lambda told: isinstance(told, Shown) and told.what == "key")
            keeper.send(Played(0, control(0, 64, 127)))
            told += told_until(keeper, lambda told: isinstance(told, Shown) and told.state == "in the tune")
            sent = [one.data for one in told if isinstance(one, Sent)]
            assert control(2, EXPRESSION, 40) in sent
            channels = {data[0] & 15 for data in sent if data[0] & 0xF0 == 0x90}
            assert channels == {0, 2}, "melody and bass play, the comp stays muted"
    finally:
        keeper.stop("the test is over")
