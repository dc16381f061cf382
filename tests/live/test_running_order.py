"""A set that is saved while it runs: it grows, shrinks, changes its order; what then comes next."""

from __future__ import annotations

import pytest

from introit.live.choice import Choice
from introit.live.events import Ordered, Ready, Reordered, Request
from introit.live.messages import control
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

NEXT, BACK = Ordered("next"), Ordered("back")


Said = list[tuple[int, Ordered | Reordered]]


def evening(front: SketchFront, said: Said, *, tunes: int = 3) -> Rehearsal:
    rehearsal = Rehearsal(sketch_setup(tunes=tunes), front)
    for ms, event in said:
        rehearsal.say(ms * NS_PER_MS, event)
    rehearsal.run(20 * NS_PER_SECOND)
    return rehearsal


def ready(rehearsal: Rehearsal) -> list[int]:
    """The tunes that became ready, by their index."""
    return [shown.tune for shown in rehearsal.shown if shown.what == "key"]


def notes(rehearsal: Rehearsal) -> list[str]:
    return [shown.text for shown in rehearsal.shown if shown.what in ("note", "refused")]


def test_tunes_that_were_added_come_after_the_last() -> None:
    said: Said = [
        (1000, NEXT),
        (2000, Reordered((0, 1, 2, 3))),
        (3000, NEXT),
        (4000, NEXT),
        (5000, Ordered("tune", value=3)),
    ]
    done = evening(SketchFront(), said, tunes=2)
    assert ready(done) == [0, 1, 2, 3, 3]
    assert notes(done) == []


def test_without_the_tunes_that_were_taken_away_it_begins_again_earlier() -> None:
    done = evening(SketchFront(), [(1000, Reordered((0, 1))), (2000, NEXT), (3000, NEXT), (4000, BACK)])
    assert ready(done) == [0, 1, 0, 1]
    assert notes(done) == ["the end of the set; it begins again"]


def test_in_another_order_next_back_and_numbers_go_by_it() -> None:
    said: Said = [(1000, Reordered((2, 0, 3, 1))), (2000, NEXT), (3000, NEXT), (4000, NEXT), (5000, BACK)]
    done = evening(SketchFront(), [*said, (6000, Ordered("tune", value=2))])
    assert ready(done) == [0, 3, 1, 2, 1, 3]
    assert notes(done) == ["the end of the set; it begins again"]


@pytest.mark.parametrize(("order", "found"), [(NEXT, 2), (BACK, 0)])
def test_who_stands_at_what_was_taken_out_goes_on_from_there(order: Ordered, found: int) -> None:
    """Tune 1 was taken out, then what came after it, too."""
    said: Said = [(1000, NEXT), (2000, Reordered((0, 2, 3))), (4000, order)]
    assert ready(evening(SketchFront(), said, tunes=4)) == [0, 1, found]
    said.insert(2, (3000, Reordered((0, 3))))
    assert ready(evening(SketchFront(), said, tunes=4)) == [0, 1, 3 if order is NEXT else 0]


@pytest.mark.parametrize(("order", "found"), [(NEXT, 0), (BACK, 1)])
def test_who_stands_beyond_the_end_finds_the_way_back(order: Ordered, found: int) -> None:
    done = evening(
        SketchFront(), [(1000, Ordered("tune", value=2)), (2000, Reordered((0, 1))), (3000, order)]
    )
    assert ready(done) == [0, 2, found]


def test_next_and_back_pass_over_a_tune_that_was_taken_out() -> None:
    done = evening(SketchFront(refuse=[1]), [(1000, NEXT), (2000, BACK), (3000, NEXT)])
    assert ready(done) == [0, 2, 0, 2]
    assert notes(done) == ["it cannot be arranged there"] * 3


def test_several_that_were_taken_out_are_passed_over_both_ways() -> None:
    done = evening(SketchFront(refuse=[1, 2, 4]), [(1000, NEXT), (2000, BACK), (3000, BACK)], tunes=6)
    assert ready(done) == [0, 3, 0, 5]


def test_with_nothing_left_what_was_ready_stays_so() -> None:
    done = evening(SketchFront(refuse=[1, 2]), [(1000, NEXT), (2000, BACK)])
    assert ready(done) == [0]
    assert [shown.tune for shown in done.shown if shown.state == "ready"][-1] == 0


def test_what_plays_while_its_set_shrinks_lands_and_the_first_comes_next() -> None:
    front = SketchFront()
    rehearsal = Rehearsal(sketch_setup(tunes=3), front)
    rehearsal.say(500 * NS_PER_MS, Ordered("tune", value=2))
    press = [(1000, 127), (1060, 0)]
    rehearsal.play([(ms * NS_PER_MS, control(0, 64, value)) for ms, value in press])
    rehearsal.say(2000 * NS_PER_MS, Reordered((0, 1)))
    rehearsal.say(9000 * NS_PER_MS, NEXT)
    rehearsal.run(11 * NS_PER_SECOND)
    assert [state for _, state in rehearsal.states()][-3:] == ["playing", "in the tune", "ready"]
    assert Request(0) in [wanted.request for wanted in rehearsal.wanted]
    assert ready(rehearsal) == [0, 2, 0]


def test_a_set_without_tunes_is_no_set() -> None:
    choice = Choice(Request(0), 3)
    choice.reorder(())
    assert (choice.tunes, choice.following) == (3, 1)


def test_it_is_counted_round_to_the_new_number() -> None:
    front = SketchFront()
    choice = Choice(Request(0), 3)
    for answer in front(choice.asked.pop()):
        assert isinstance(answer, Ready)
        choice.hear(answer, playing=False)
    choice.reorder((0, 1, 2, 3))
    assert choice.turn_to(3) == Request(3)
    assert choice.turn_to(4) == Request(0)
    assert choice.turn_to(-1) == Request(3)
