"""Presses, double presses and holds, each within one visit to a state."""

from __future__ import annotations

from introit.live.foot import Edge, Move
from introit.live.gestures import DOUBLE_NS, HOLD_NS, Gestures, Told
from introit.live.states import Gesture
from introit.units import NS_PER_MS


def pressed(gestures: Gestures, ms: int, *, before: int = 1, visit: int = 1) -> list[Gesture]:
    ns = ms * NS_PER_MS
    told = [gestures.press(ns, before), gestures.double(ns, before=before, visit=visit)]
    return [one.gesture for one in told if one is not None]


def test_two_presses_within_four_tenths_are_a_double_press() -> None:
    gestures = Gestures(held=True)
    assert pressed(gestures, 0) == [Gesture.PRESS]
    assert pressed(gestures, 400) == [Gesture.PRESS, Gesture.DOUBLE_PRESS]
    assert pressed(gestures, 500) == [Gesture.PRESS]  # a third is a first again
    assert pressed(gestures, 901) == [Gesture.PRESS]
    assert pressed(gestures, 1_000) == [Gesture.PRESS, Gesture.DOUBLE_PRESS]


def test_presses_of_two_visits_are_no_double_press() -> None:
    gestures = Gestures(held=True)
    assert pressed(gestures, 0, before=1, visit=2) == [Gesture.PRESS]
    assert pressed(gestures, 100, before=2, visit=2) == [Gesture.PRESS]
    assert pressed(gestures, 200, before=2, visit=3) == [Gesture.PRESS]  # the second press changed the state


def test_a_hold_is_told_once_when_it_is_complete() -> None:
    gestures = Gestures(held=True)
    pressed(gestures, 10)
    assert gestures.next_due == 10 * NS_PER_MS + HOLD_NS
    assert gestures.hold(10 * NS_PER_MS + HOLD_NS - 1, 1) is None
    assert gestures.hold(2_000 * NS_PER_MS, 1) == Told(Gesture.HOLD, 510 * NS_PER_MS)
    assert gestures.next_due is None
    assert gestures.hold(3_000 * NS_PER_MS, 1) is None


def test_a_hold_from_another_visit_does_not_count_and_a_release_ends_it() -> None:
    gestures = Gestures(held=True)
    pressed(gestures, 0, before=1, visit=2)
    assert gestures.hold(HOLD_NS, 2) is None
    pressed(gestures, 2_000, before=2, visit=2)
    gestures.edge(Edge(Move.UP, 2_100 * NS_PER_MS))
    assert gestures.next_due is None


def test_where_a_switch_cannot_be_held_a_double_press_does_it() -> None:
    gestures = Gestures(held=False)
    assert pressed(gestures, 0) == [Gesture.PRESS]
    assert gestures.next_due is None
    assert pressed(gestures, DOUBLE_NS // NS_PER_MS) == [Gesture.PRESS, Gesture.HOLD]
