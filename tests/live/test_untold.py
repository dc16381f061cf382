"""A cycle that the system loses without telling: a note hangs until the landing or a silence, not beyond."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import pytest

from introit.live.events import Ready, Refused, Sent, Wanted
from introit.live.messages import control, note_off
from introit.performance import PlayedNote
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

MS = NS_PER_MS
CYCLE, AHEAD = 3 * MS, 30 * MS
PRESS = 1_000 * MS
HEAD = PRESS + 4 * NS_PER_SECOND
"""Two bars of four at 120."""


Band = Callable[..., Rehearsal]


@pytest.fixture
def band() -> Iterator[Band]:
    """Makes rehearsals with one port that works in cycles, and a press at one second."""
    made: list[Rehearsal] = []

    def make(front: SketchFront | None = None, *, cycle: int = CYCLE, ahead: int = AHEAD) -> Rehearsal:
        made.append(Rehearsal(sketch_setup(), front or SketchFront(), lookaheads=[ahead]))
        made[-1].ports[0].latency = cycle
        made[-1].play(foot(PRESS, PRESS + 100 * MS))
        return made[-1]

    yield make
    for one in made:
        one.inbox.close()


def foot(down: int, up: int) -> list[tuple[int, bytes]]:
    return [(down, control(0, 64, 127)), (up, control(0, 64, 0))]


def offs_from(rehearsal: Rehearsal, ns: int) -> list[Sent]:
    return [sent for sent in rehearsal.receivers[0].offs() if sent.actual >= ns]


def test_an_off_that_was_lost_untold_is_made_good_one_lookahead_after_the_head(band: Band) -> None:
    rehearsal = band()
    lost = PRESS + 3_500 * MS  # a bass note ends, and the next is struck
    rehearsal.ports[0].lose(lost - CYCLE // 2, lost + CYCLE // 2, told=False)
    rehearsal.advance(HEAD + AHEAD - 1)
    assert rehearsal.ledger.owed(0) == []  # the port has told it as sent
    hanging = set(rehearsal.receivers[0].sounding)
    assert hanging
    rehearsal.advance(HEAD + AHEAD)
    assert not rehearsal.receivers[0].sounding
    again = offs_from(rehearsal, HEAD + AHEAD)
    assert {sent.actual for sent in again} == {HEAD + AHEAD}
    data = [sent.data for sent in again]
    assert len(data) == len(set(data))  # one a note
    rehearsal.advance(HEAD + 10 * NS_PER_SECOND)
    assert offs_from(rehearsal, HEAD + AHEAD) == again  # once


def test_without_a_loss_the_same_offs_go_out_and_change_nothing_before(band: Band) -> None:
    plain, cycled = band(cycle=0), band()
    for one in (plain, cycled):
        one.advance(HEAD + NS_PER_SECOND)
        assert not one.receivers[0].sounding
    assert offs_from(plain, HEAD + 1) == []
    ended = {sent.data for sent in plain.receivers[0].offs()}
    assert {sent.data for sent in offs_from(cycled, HEAD + 1)} == ended
    before = [sent for sent in cycled.receivers[0].messages if sent.actual <= HEAD]
    assert before == plain.receivers[0].messages


def test_a_lost_off_is_made_good_after_a_silence_too(band: Band) -> None:
    rehearsal = band()
    lost = PRESS + 1_500 * MS
    rehearsal.ports[0].lose(lost - CYCLE // 2, lost + CYCLE // 2, told=False)
    silence = PRESS + 2_100 * MS
    rehearsal.play(foot(silence, silence + 900 * MS))
    held = silence + 500 * MS  # a hold takes half a second
    rehearsal.advance(held + 1)
    assert rehearsal.session.state == "ready"
    rehearsal.advance(held + AHEAD + MS)
    assert not rehearsal.receivers[0].sounding
    assert rehearsal.ledger.owed(0) == []


def test_the_cycle_of_the_silence_itself_may_be_lost(band: Band) -> None:
    rehearsal = band()
    silence = PRESS + 2_100 * MS
    held = silence + 500 * MS
    rehearsal.ports[0].lose(held - CYCLE, held + CYCLE, told=False)
    rehearsal.play(foot(silence, silence + 900 * MS))
    rehearsal.advance(held + AHEAD - 1)
    assert rehearsal.receivers[0].sounding
    rehearsal.advance(held + AHEAD + MS)
    assert not rehearsal.receivers[0].sounding


class RingingFront(SketchFront):
    """One note of the comping rings for a bar beyond the head."""

    def __call__(self, wanted: Wanted) -> Sequence[Ready | Refused]:
        (ready,) = super().__call__(wanted)
        assert isinstance(ready, Ready)
        made = ready.performance
        bar = 4 * TICKS_PER_QUARTER
        ringing = PlayedNote(made.head_tick - bar, made.head_tick + bar, made.head_tick - bar, 1, 90, 64)
        notes = sorted((*made.notes, ringing), key=lambda note: (note.onset, note.part, note.pitch))
        changed = replace(made, notes=tuple(notes), end_tick=made.head_tick + bar)
        return [Ready(ready.tune, ready.own, changed)]


def test_what_rings_on_after_the_head_is_not_cut(band: Band) -> None:
    rehearsal = band(RingingFront())
    rehearsal.advance(HEAD + 2 * AHEAD)
    assert set(rehearsal.receivers[0].sounding) == {(1, 90)}
    rehearsal.advance(HEAD + 3 * NS_PER_SECOND)
    ends = [sent.actual for sent in rehearsal.receivers[0].offs() if sent.data == note_off(1, 90)]
    assert ends == [HEAD + 2 * NS_PER_SECOND]  # a bar at 120


def test_what_is_struck_right_after_a_silence_is_not_cut(band: Band) -> None:
    rehearsal = band(ahead=100 * MS)
    silence = PRESS + 2_100 * MS
    held = silence + 500 * MS
    rehearsal.play(foot(silence, held + MS))
    rehearsal.play(foot(held + 40 * MS, held + 90 * MS))  # a start within the lookahead
    rehearsal.advance(held + 400 * MS)
    first = min(sent.actual for sent in rehearsal.receivers[0].ons() if sent.actual > held)
    struck = [sent.data for sent in rehearsal.receivers[0].ons() if sent.actual == first]
    assert len(struck) == 4
    for data in struck:
        ends = [sent.actual for sent in offs_from(rehearsal, first) if sent.data[1] == data[1]]
        assert not ends  # nothing of the sketch's first beat ends before the second


def test_a_port_that_is_away_is_told_nothing(band: Band) -> None:
    rehearsal = band()
    rehearsal.advance(HEAD - MS)
    rehearsal.ports[0].vanish("pulled")
    rehearsal.advance(HEAD + NS_PER_SECOND)
    assert offs_from(rehearsal, HEAD) == []
