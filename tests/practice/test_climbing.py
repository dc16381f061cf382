"""Tempi of a climb: exactly, and never out of their bounds."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from introit.practice.climbing import Climbing
from introit.practice.goal import Climb


def tempi(climb: Climb, outcomes: Iterable[bool]) -> list[float]:
    """The tempo of each pass, and of the one after the last."""
    state, found = Climbing(climb), []
    for clean in outcomes:
        found.append(state.tempo)
        state = state.after(clean=clean)
    return [*found, state.tempo]


def marks(text: str) -> list[bool]:
    """`+` for a clean pass, `-` for one that was not."""
    return [sign == "+" for sign in text]


def test_up_after_two_clean_in_a_row() -> None:
    assert tempi(Climb(96, 160, 4, each=2, pressed=True), marks("++++")) == [96, 96, 100, 100, 104]


def test_a_pass_that_was_not_clean_begins_the_count_anew() -> None:
    assert tempi(Climb(96, 160, 4, each=2, pressed=True), marks("+-++")) == [96, 96, 96, 96, 100]


def test_down_after_two_that_were_not_clean_and_not_below_the_bottom() -> None:
    climb = Climb(96, 160, 4, each=1, pressed=True)
    assert tempi(climb, marks("++--")) == [96, 100, 104, 104, 100]
    assert tempi(climb, marks("++-+")) == [96, 100, 104, 104, 108]
    assert tempi(climb, marks("----")) == [96, 96, 96, 96, 96]


def test_two_that_were_not_clean_at_two_tempi_are_not_two_in_a_row() -> None:
    assert tempi(Climb(96, 160, 4, pressed=True), marks("-+-+")) == [96, 96, 100, 100, 104]
    assert tempi(Climb(96, 160, 4, pressed=True), marks("++---")) == [96, 100, 104, 104, 100, 100]


def test_a_clean_pass_between_two_that_were_not_parts_them() -> None:
    climb = Climb(96, 160, 4, each=2, pressed=True)
    assert tempi(climb, marks("++-+-")) == [96, 96, 100, 100, 100, 100]


def test_clean_passes_at_the_top_are_not_saved_up() -> None:
    climb = Climb(96, 104, 4, pressed=True)
    assert tempi(climb, marks("+++++--")) == [96, 100, 104, 104, 104, 104, 104, 100]


def test_where_nobody_presses_every_pass_counts() -> None:
    assert tempi(Climb(96, 108, 4, each=2), marks("-------")) == [96, 96, 100, 100, 104, 104, 108, 108]
    assert tempi(Climb(96, 108, 4), marks("-----")) == [96, 100, 104, 108, 108, 108]


def test_a_step_that_does_not_divide_the_climb_ends_at_the_top() -> None:
    assert tempi(Climb(96, 105, 4), marks("++++")) == [96, 100, 104, 105, 105]
    assert tempi(Climb(60, 62, 0.75 + 0.25), marks("+++")) == [60, 61, 62, 62]


def test_slow_fast_slow_turns_at_both_ends() -> None:
    climb = Climb(96, 105, 4, back=True)
    assert tempi(climb, marks("+" * 8)) == [96, 100, 104, 105, 104, 100, 96, 100, 104]


def test_on_the_way_back_a_slower_tempo_is_the_next_one_too() -> None:
    climb = Climb(96, 104, 4, pressed=True, back=True)
    assert tempi(climb, marks("+++--+")) == [96, 100, 104, 100, 100, 96, 100]


def test_it_says_where_it_is() -> None:
    state = Climbing(Climb(96, 100, 4, each=2, pressed=True))
    assert state.sentence() == "0 of 2 clean"
    state = state.after(clean=True)
    assert state.sentence() == "1 of 2 clean"
    assert state.after(clean=True).sentence() == "0 of 2 clean, at the top"


@st.composite
def climbs(draw: st.DrawFn) -> Climb:
    low = draw(st.integers(30, 390))
    high = draw(st.integers(low + 1, 400))
    step = draw(st.floats(1, high - low)) if draw(st.booleans()) else draw(st.integers(1, high - low))
    return Climb(low, high, step, draw(st.integers(1, 4)), draw(st.booleans()), draw(st.booleans()))


@given(climbs(), st.lists(st.booleans(), max_size=80))
def test_it_never_leaves_its_bounds(climb: Climb, outcomes: list[bool]) -> None:
    found = tempi(climb, outcomes)
    assert found[0] == climb.low
    assert all(climb.low <= tempo <= climb.high for tempo in found)
    assert all(abs(after - before) <= climb.step + 0.01 for before, after in pairwise(found))


@given(climbs())
def test_clean_passes_reach_the_top(climb: Climb) -> None:
    passes = climb.each * Climbing(climb).top
    assert tempi(climb, [True] * passes)[-1] == climb.high


@given(climbs(), st.lists(st.booleans(), max_size=60))
def test_it_is_never_faster_without_as_many_clean_passes(climb: Climb, outcomes: list[bool]) -> None:
    found = tempi(climb, outcomes)
    for number in range(len(outcomes)):
        if climb.pressed and not climb.back and found[number + 1] > found[number]:
            assert all(outcomes[number - climb.each + 1 : number + 1])
