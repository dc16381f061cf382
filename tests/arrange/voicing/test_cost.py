from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.voicing import cost
from introit.arrange.voicing.cost import Features, movement_prices, stack_price, top_leaps

GRIPS = st.lists(st.integers(45, 77), min_size=2, max_size=4, unique=True).map(sorted)


def features(grip: list[int], classes: tuple[set[int], set[int]]) -> Features:
    """The tables of one grip, filled up to four voices."""
    pitches = np.array([grip + [-1] * (4 - len(grip))])
    among = [np.isin(pitches % 12, list(wanted)) & (pitches >= 0) for wanted in classes]
    return Features(pitches, *among)


def price_of(before: list[int], after: list[int], classes: tuple[set[int], set[int]]) -> float:
    return float(movement_prices(features(before, classes), features(after, classes))[0, 0])


@given(GRIPS, GRIPS, st.sets(st.integers(0, 11)), st.sets(st.integers(0, 11)))
def test_products_of_tables_equal_the_movement_counted_voice_by_voice(
    before: list[int], after: list[int], guides: set[int], tense: set[int]
) -> None:
    price = price_of(before, after, (guides, tense))

    def nearest(pitch: int, others: list[int]) -> int:
        return min(abs(pitch - other) for other in others)

    there_and_back = sum(nearest(p, after) for p in before) + sum(nearest(p, before) for p in after)
    unled = sum(max(0, nearest(p, after) - 2) for p in before if p % 12 in guides)
    unresolved = sum(not {p, p - 1, p - 2} & set(after) for p in before if p % 12 in tense)
    unprepared = sum(max(0, nearest(p, before) - 2) for p in after if p % 12 in tense)
    leap = abs(before[-1] - after[-1])
    expected = cost.MOVEMENT * there_and_back + cost.GUIDE_LEAP * unled
    expected += cost.UNRESOLVED * unresolved + cost.UNPREPARED * unprepared
    expected += cost.TOP_SKIP * (leap > 2) + cost.TOP_FARTHER * max(0, leap - 2) + cost.TOP_LEAP * (leap > 5)
    assert price == pytest.approx(expected, abs=1e-3)


def test_a_flat_nine_falls_to_five_for_less_than_it_rises() -> None:
    """G7(b9) to C: Ab falls to G (judgement: tensions fall by step or stay)."""
    falls = price_of([59, 65, 68], [60, 64, 67], (set(), {8}))
    rises = price_of([59, 65, 68], [60, 64, 69], (set(), {8}))
    assert rises - falls == pytest.approx(cost.UNRESOLVED, abs=1e-3)


def test_leaps_are_those_of_the_top_voice() -> None:
    assert top_leaps(np.array([70, 71]), np.array([64, 76, 71])).tolist() == [[6, 6, 1], [7, 5, 0]]


@pytest.mark.parametrize(
    ("dear", "cheap"),
    [
        ((57, 58, 64), (57, 61, 64)),  # a semitone at the bottom
        ((57, 63, 64), (57, 61, 64)),  # a semitone on top
        ((52, 53, 55, 64), (52, 57, 61, 64)),  # a cluster
        ((52, 59, 64, 74), (52, 59, 62, 66)),  # a wide span
        ((52, 58, 60), (52, 58, 62)),  # the bass note doubled on top
    ],
)
def test_what_rubs_is_dear(voice: Any, dear: tuple[int, ...], cheap: tuple[int, ...]) -> None:
    """Judgement, no source."""
    chord = voice.material("C7")
    assert stack_price(dear, chord) > stack_price(cheap, chord)
