"""Which parts are left out, pass by pass."""

from __future__ import annotations

import pytest

from introit.practice.goal import Goal, Hide
from introit.practice.hiding import hidden, melody_level, turns


def test_one_part_after_the_other() -> None:
    goal = Goal(hide=Hide())
    assert [sorted(hidden(goal, turn)) for turn in range(4)] == [
        ["melody"],
        ["comp"],
        ["bass", "pedal"],  # the pedal point is the bass player's
        ["melody"],
    ]
    assert turns(goal) == 3


def test_all_of_them_in_every_pass() -> None:
    goal = Goal(hide=Hide(("melody", "comp"), in_turn=False))
    assert [sorted(hidden(goal, turn)) for turn in range(2)] == [["comp", "melody"]] * 2
    assert turns(goal) == 1


@pytest.mark.parametrize(
    ("fade", "levels"),
    [
        (0, [100, 100, 100, 100, 100, 100, 100]),
        (2, [100, 0, 0, 0, 0, 0, 0]),
        (4, [100, 67, 33, 0, 0, 0, 0]),
        (5, [100, 75, 50, 25, 0, 0, 0]),
    ],
)
def test_the_melody_fades_until_the_player_is_alone(fade: int, levels: list[int]) -> None:
    assert [melody_level(Goal(fade=fade), turn) for turn in range(7)] == levels
