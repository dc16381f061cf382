"""Another tempo, intro or playing: what the front is asked for, and what comes of its answer."""

from __future__ import annotations

import pytest

from introit.live.events import Ordered, Request, Shown
from introit.live.messages import note_on
from introit.live.setup import KeyZone
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.testing.script import feet
from introit.units import NS_PER_MS, NS_PER_SECOND

MS = NS_PER_MS
_ZONE = KeyZone(low=24, high=47, minor="tune")
FASTER, SLOWER, ANOTHER = (Ordered(order) for order in ("faster", "slower", "another intro"))


def evening(
    front: SketchFront,
    orders: list[tuple[int, Ordered]],
    *,
    presses: tuple[int, ...] = (),
    key_notes: tuple[tuple[int, int], ...] = (),
    until: int = 20,
    answer_after: int = 0,
) -> Rehearsal:
    """Two bars of four at 120 last 4 s; times are in milliseconds."""
    rehearsal = Rehearsal(sketch_setup(tunes=3, key_zone=_ZONE), front, answer_after=answer_after * MS)
    script = feet(*presses)
    script += [(at * MS, note_on(15, note, 90)) for at, note in key_notes]
    rehearsal.play(sorted(script))
    for ms, order in orders:
        rehearsal.say(ms * MS, order)
    rehearsal.run(until * NS_PER_SECOND)
    return rehearsal


def ready(rehearsal: Rehearsal) -> list[tuple[int, str, float, str]]:
    """(tune, key, tempo, intro) of all that became ready, in order."""
    return [_facts(shown) for shown in rehearsal.shown if shown.what == "key"]


def _facts(shown: Shown) -> tuple[int, str, float, str]:
    return shown.tune, shown.key, shown.tempo, shown.intro


def test_faster_and_slower_are_asked_for_and_played() -> None:
    done = evening(SketchFront(), [(1000, FASTER), (1100, FASTER), (1200, SLOWER)], presses=(2000,))
    assert [facts[2] for facts in ready(done)] == [120, 122, 124, 122]
    states = {state: ns for ns, state in done.states()}
    assert states["in the tune"] - states["playing"] == pytest.approx(8 * 60 / 122 * NS_PER_SECOND, abs=1)


def test_a_tempo_stays_with_its_tune_in_every_key_and_no_other_has_it() -> None:
    orders = [(1000, FASTER), (2000, Ordered("next")), (3000, Ordered("back"))]
    done = evening(SketchFront(), orders, key_notes=((4000, 26),), until=6)
    assert ready(done) == [
        (0, "C", 120, "sketch"),
        (0, "C", 122, "sketch"),
        (1, "F", 120, "sketch"),
        (0, "C", 122, "sketch"),
        (0, "D", 122, "sketch"),
    ]


def test_a_tempo_that_is_refused_is_told_and_what_was_ready_stays() -> None:
    front = SketchFront(tempi=(60, 122))
    done = evening(front, [(1000, FASTER), (2000, FASTER), (3000, SLOWER)], presses=(4000,), until=10)
    assert [shown.text for shown in done.shown if shown.what == "refused"] == ["it cannot be played at 124"]
    assert [facts[2] for facts in ready(done)] == [120, 122, 120]
    assert done.states()[-1][1] == "in the tune"


def test_orders_that_come_before_the_front_has_answered_add_up() -> None:
    done = evening(SketchFront(), [(1000, FASTER), (1010, FASTER), (1020, FASTER)], answer_after=200, until=3)
    assert [wanted.request.tempo for wanted in done.wanted] == [None, 122, 124, 126]
    assert ready(done)[-1] == (0, "C", 126, "sketch")
    assert len(ready(done)) == 2  # what was no longer wanted is not told


def test_another_intro_is_the_next_one_round_and_round() -> None:
    front = SketchFront(intros=("one", "two", "three"))
    done = evening(front, [(at, ANOTHER) for at in (1000, 1100, 1200, 1300)], until=3)
    assert [facts[3] for facts in ready(done)] == ["one", "two", "three", "one", "two"]


def test_another_intro_keeps_key_and_tempo() -> None:
    front = SketchFront(intros=("one", "two"))
    done = evening(front, [(1500, FASTER), (2000, ANOTHER)], key_notes=((1000, 26),), until=3)
    assert ready(done)[-1] == (0, "D", 122, "two")
    assert done.wanted[-1].request == Request(0, 2, None, 122, 1)


def test_the_next_playing_is_in_the_next_intro_of_the_rotation() -> None:
    front = SketchFront(intros=("one", "two"))
    done = evening(front, [], presses=(1000, 7000, 7200, 8000, 14_000, 14_200), until=16)
    began = [shown.intro for shown in done.shown if (shown.what, shown.state) == ("state", "playing")]
    assert began == ["one", "two"]
    assert [wanted.request for wanted in done.wanted if wanted.afresh] == [Request(0, 0, False)] * 2
    assert [shown.intro for shown in done.shown if shown.state == "ready"][-1] == "one"


def test_after_the_rotation_another_intro_goes_on_from_there() -> None:
    front = SketchFront(intros=("one", "two", "three"))
    done = evening(front, [(9000, ANOTHER)], presses=(1000, 7000, 7200), until=11)
    assert [shown.intro for shown in done.shown if shown.state == "ready"][-2:] == ["two", "three"]


def test_a_tempo_that_was_nudged_while_it_played_is_the_next_playings() -> None:
    done = evening(SketchFront(), [(2000, FASTER)], presses=(1000, 7000, 7200), until=9)
    assert done.wanted[1].request.tempo == 122
    assert done.wanted[1].afresh
    assert [shown.tempo for shown in done.shown if shown.state == "ready"][-1] == 122
