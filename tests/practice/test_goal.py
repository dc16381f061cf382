"""What can be asked for, and what is answered where it cannot."""

from __future__ import annotations

from typing import Any

import pytest

from introit.errors import UsageError
from introit.library.leading import Bars
from introit.practice.goal import Climb, Ear, Goal, Hide, Keys, Lesson, Order


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"rest": 0}, "rest is 0; allowed is 1 to 16 bars"),
        ({"rest": 17}, "rest is 17; allowed is 1 to 16 bars"),
        ({"count": 5}, "count is 5; allowed is 0 to 4 bars"),
        ({"rounds": 0}, "rounds are 0; allowed is 1 to 64"),
        ({"answer": 17}, "answer takes 17; allowed is 0 to 16 bars"),
        ({"passes": 0}, "passes are 0; allowed is 1 to 10000"),
        ({"tempo": 29}, "a tempo is 29; allowed is 30 to 400 quarter notes a minute"),
        ({"fade": 1}, "the melody fades over 1; allowed is 2 to 20 passes"),
        ({"bars": Bars(3, 2)}, "a passage goes from a bar to the same or a later one"),
        ({"bars": Bars(0, 2)}, "counted from 1"),
    ],
)
def test_a_number_out_of_range_is_answered_with_what_is_allowed(fields: dict[str, Any], says: str) -> None:
    with pytest.raises(UsageError) as caught:
        Goal(**fields)
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("low", "high", "step", "says"),
    [
        (160, 96, 4, "Did you mean 'climb 96 to 160'?"),
        (96, 96, 4, "not from 96 to 96"),
        (20, 96, 4, "allowed is 30 to 400"),
        (96, 401, 4, "allowed is 30 to 400"),
        (96, 100, 5, "climb goes up by 5; allowed is 1 to 4 between 96 and 100"),
        (96, 100, 0.5, "climb goes up by 0.5; allowed is 1 to 4"),
    ],
)
def test_a_climb_has_bounds_and_steps(low: float, high: float, step: float, says: str) -> None:
    with pytest.raises(UsageError) as caught:
        Climb(low, high, step)
    assert says in str(caught.value)


PRESSED = Climb(96, 160, 4, 2, pressed=True)


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"build": Lesson.CHORDS, "climb": PRESSED}, "cannot say clean for climb too"),
        ({"ear": Ear.BOTH, "climb": PRESSED}, "cannot say clean for climb too"),
        ({"ear": Ear.OUT, "build": Lesson.CHORDS}, "practise one of them"),
        ({"build": Lesson.CHORDS, "bars": Bars(1, 2)}, "build has bars of its own"),
        ({"build": Lesson.STRINGS, "hide": Hide(("bass",))}, "nothing to hide"),
        ({"build": Lesson.STRINGS, "answer": 2}, "nothing to hide"),
        ({"build": Lesson.STRINGS, "fade": 4}, "nothing to hide"),
        ({"ear": Ear.SWAPPED, "hide": Hide()}, "hide must leave the comp in"),
        ({"ear": Ear.OUT, "answer": 2}, "listen needs the comp in every bar"),
        ({"fade": 4, "hide": Hide(("melody",))}, "leave it out of hide"),
        ({"climb": Climb(96, 160), "tempo": 120}, "leave out 'at'"),
    ],
)
def test_what_cannot_be_practised_at_once_is_told(fields: dict[str, Any], says: str) -> None:
    with pytest.raises(UsageError) as caught:
        Goal(**fields)
    assert says in str(caught.value)


@pytest.mark.parametrize(
    "fields",
    [
        {"keys": Keys(), "climb": PRESSED, "hide": Hide()},
        {"keys": Keys(), "climb": PRESSED, "fade": 4, "hide": Hide(("comp", "bass"))},
        {"keys": Keys(), "answer": 2, "hide": Hide(("bass",), in_turn=False), "climb": PRESSED},
        {"build": Lesson.CHORDS, "climb": Climb(96, 160), "keys": Keys(), "hide": Hide(("melody",))},
        {"build": Lesson.STRINGS, "keys": Keys(Order.RANDOM), "tempo": 80},
        {"ear": Ear.BOTH, "keys": Keys(), "climb": Climb(96, 160), "hide": Hide(("melody", "bass"))},
        {"bars": Bars(1, 2), "rounds": 4, "count": 1, "rest": 2, "climb": PRESSED},
    ],
)
def test_what_a_player_would_combine_can_be_combined(fields: dict[str, Any]) -> None:
    assert Goal(**fields)


def test_keys_in_the_order_of_a_set_need_keys() -> None:
    with pytest.raises(UsageError, match="need a set, or names"):
        Keys(Order.AS_GIVEN)
    with pytest.raises(UsageError, match="melody, comp, bass, each once"):
        Hide(("melody", "melody"))
    with pytest.raises(UsageError, match="melody, comp, bass, each once"):
        Hide(("ride",))
