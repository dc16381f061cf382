"""An intro that follows another's clock: in on its downbeat, with it through the bars, on without it.

The leader here counts by the MIDI 1.0 Detailed Specification: 24 clocks a quarter note, the first after Start
is the song's beginning. Where its downbeats fall is worked out by arithmetic.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from introit.live.messages import CLOCK, START, STOP, note_on
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.testing.script import feet
from introit.units import NS_PER_MS, NS_PER_SECOND

MS = NS_PER_MS
BASS = note_on(2, 36, 80)
BEGIN = NS_PER_SECOND


def clocks(*stretches: tuple[float, int], begin: int = BEGIN) -> list[int]:
    """When clocks come: so many quarters at each tempo, behind each other."""
    times, ns = [], float(begin)
    for tempo, quarters in stretches:
        for _ in range(quarters * 24):
            times.append(round(ns))
            ns += 60 * NS_PER_SECOND / tempo / 24
    return times


def followed(
    leader: list[int],
    *presses: int,
    start: bool = True,
    lookahead: int = 0,
    count_off: int = 0,
) -> Rehearsal:
    """Two bars of four at 120 of our own, with the leader on the second port."""
    setup = sketch_setup(ports=2, follow=1)
    front = SketchFront(count_off=count_off)
    rehearsal = Rehearsal(setup, front, lookaheads=(lookahead, lookahead))
    rehearsal.play(feet(*presses))
    if start:
        rehearsal.play([(BEGIN - 5 * MS, START)], port=1)
    rehearsal.play([(ns, CLOCK) for ns in leader], port=1)
    rehearsal.run(40 * NS_PER_SECOND)
    return rehearsal


def struck(rehearsal: Rehearsal) -> list[float]:
    """Seconds of the bass's beats."""
    return [sent.actual / NS_PER_SECOND for sent in rehearsal.receivers[1].ons() if sent.data == BASS]


def state_at(rehearsal: Rehearsal, name: str) -> float:
    return next(ns for ns, state in rehearsal.states() if state == name) / NS_PER_SECOND


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_it_enters_on_the_leaders_next_downbeat_and_plays_at_its_tempo(lookahead: int) -> None:
    # At 100 a bar lasts 2.4 s: downbeats at 1, 3.4, 5.8 s and so on; our own tempo would be 120.
    done = followed(clocks((100, 60)), 4_000, lookahead=lookahead)
    assert struck(done) == pytest.approx([5.8 + 0.6 * beat for beat in range(8)], abs=0.001)
    assert done.states()[0] == (4 * NS_PER_SECOND, "counting off")
    assert state_at(done, "playing") == pytest.approx(5.8, abs=0.001)
    assert state_at(done, "in the tune") == pytest.approx(10.6, abs=0.001)


def test_a_count_off_begins_on_the_downbeat() -> None:
    done = followed(clocks((100, 60)), 4_000, count_off=4)
    assert struck(done)[0] == pytest.approx(8.2, abs=0.001)
    assert state_at(done, "in the tune") == pytest.approx(13.0, abs=0.001)


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_it_goes_along_with_a_change_of_tempo(lookahead: int) -> None:
    # 100 for ten quarters to 7 s, where 112 begins: the head, eight quarters after 5.8 s, is six later.
    head = 7 + 6 * 60 / 112
    done = followed(clocks((100, 10), (112, 50)), 4_000, lookahead=lookahead)
    assert state_at(done, "in the tune") == pytest.approx(head, abs=0.02)
    beats = struck(done)
    assert len(beats) == 8
    assert all(0.5 < after - before < 0.65 for before, after in pairwise(beats))


def test_without_the_leader_it_goes_on_at_its_last_tempo() -> None:
    leader = [ns for ns in clocks((100, 60)) if ns < 7 * NS_PER_SECOND]
    done = followed(leader, 4_000)
    assert state_at(done, "in the tune") == pytest.approx(10.6, abs=0.005)
    assert len(struck(done)) == 8


@pytest.mark.parametrize(("leader", "start"), [([], True), (clocks((100, 60)), False)])
def test_where_nobody_says_where_the_bar_is_it_starts_at_once(leader: list[int], start: bool) -> None:
    done = followed(leader, 4_000, start=start)
    assert struck(done)[0] == 4.0
    assert state_at(done, "in the tune") == 8.0
    assert any("no clock to follow" in shown.text for shown in done.shown)


def test_a_press_cancels_while_the_downbeat_is_waited_for() -> None:
    done = followed(clocks((100, 60)), 4_000, 4_500)
    assert [state for _, state in done.states()] == ["counting off", "ready"]
    assert struck(done) == []


def test_a_stopped_leader_is_none() -> None:
    setup = sketch_setup(ports=2, follow=1)
    rehearsal = Rehearsal(setup, SketchFront())
    rehearsal.play([(BEGIN - 5 * MS, START), *((ns, CLOCK) for ns in clocks((100, 4)))], port=1)
    rehearsal.play([(3_500 * MS, STOP)], port=1)
    rehearsal.play(feet(4_000))
    rehearsal.run(20 * NS_PER_SECOND)
    assert struck(rehearsal)[0] == 4.0


def test_its_clocks_are_not_logged() -> None:
    done = followed(clocks((100, 60)), 4_000)
    assert [heard.data for heard in done.heard if heard.port == 1] == [START]
