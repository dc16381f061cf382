"""The bounds of a whole, on problems small enough to read."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from introit.arrange.voicing.whole import Whole

BAR = 3840


def whole(own: Any, **fields: Any) -> Whole:
    prices = np.array(own, dtype=np.float64)
    rows, choices = prices.shape
    nothing = np.zeros((rows, choices), dtype=np.int64)
    plain: dict[str, Any] = {
        "own": prices,
        "moves": np.zeros((rows - 1, choices, choices)),
        "plain": nothing.astype(np.bool_),
        "voices": nothing + 3,
        "tensions": nothing,
        "leaps": np.zeros((rows - 1, choices, choices), dtype=np.int64),
        "jumps": None,
        "ticks": [BAR * row for row in range(rows)],
        "bar_ticks": BAR,
        "weights": np.full(rows, 1920),
        "chords": list(range(rows)),
        "last_dominant": None,
    }
    return Whole(**(plain | fields))


ALL = np.ones((4, 2), dtype=np.int64)
OTHER = np.abs(np.subtract.outer([0, 1], [0, 1]))
"""1 for a change between the two choices."""


def test_too_many_voices_are_thinned_out() -> None:
    voices = ALL * [4, 3]
    path = whole([[0, 0.3], [0, 0.5], [0, 0.4], [0, 0.6]], voices=voices).solve()
    assert voices[np.arange(4), path].mean() <= 3.3


def test_an_intro_of_three_chords_may_be_full() -> None:
    assert whole([[0, 1], [0, 1], [0, 1]], voices=ALL[:3] * [4, 3]).solve() == [0, 0, 0]


def test_the_last_dominant_keeps_its_fullness() -> None:
    path = whole([[0, 0.1]] * 4, voices=ALL * [4, 3], last_dominant=3).solve()
    assert path[3] == 0
    assert sum(path) >= 3


def test_five_voices_are_heard_once() -> None:
    path = whole([[0, 4], [0, 5], [0, 4]], voices=ALL[:3] * [5, 3]).solve()
    assert path.count(0) == 1


def test_nothing_is_tenser_than_the_last_dominant() -> None:
    tensions = np.array([[2, 0], [0, 1], [2, 0], [1, 2]])
    path = whole([[0, 1], [0, 1], [0, 1], [0, 1]], tensions=tensions, last_dominant=3).solve()
    counts = tensions[np.arange(4), path]
    assert counts[3] == counts.max()


def test_the_last_dominant_is_not_left_bare_where_voices_are_thinned() -> None:
    """However dear another grip is, for a texture may sound a tension elsewhere."""
    tensions = np.array([[0, 0], [0, 0], [0, 0], [0, 1]])
    voices = np.array([[4, 3], [4, 3], [4, 3], [3, 4]])
    prices = [[0, 1], [0, 1], [0, 1], [0, 14]]
    path = whole(prices, voices=voices, tensions=tensions, last_dominant=3).solve()
    assert tensions[3, path[3]] == 1


@pytest.mark.parametrize(("bars", "most"), [([0, 1, 2, 3], 1), ([0, 4, 8, 12], 3)])
def test_the_top_voice_leaps_once_in_four_bars(bars: list[int], most: int) -> None:
    """At most one leap over a fourth in four bars: common practice, no source."""
    leaps = np.stack([OTHER * 7] * 3)
    repeating = whole([[0, 1], [1, 0], [0, 1], [1, 0]], leaps=leaps, ticks=[BAR * bar for bar in bars])
    repeating.weigh([5] * 4)  # three skips are few among so many repeats
    path = repeating.solve()
    assert sum(one != other for one, other in pairwise(path)) == most


@pytest.mark.parametrize(("bars", "most"), [([0, 0, 0, 0], 1), ([0, 0, 1, 1], 2), ([0, 1, 2, 3], 3)])
def test_the_hand_jumps_once_a_bar(bars: list[int], most: int) -> None:
    """A change of more than four frets at most once a bar: common practice, no source."""
    jumps = np.stack([OTHER.astype(np.bool_)] * 3)
    path = whole([[0, 1], [1, 0], [0, 1], [1, 0]], jumps=jumps, ticks=[BAR * bar for bar in bars]).solve()
    changes = [bars[unit + 1] for unit in range(3) if path[unit] != path[unit + 1]]
    assert len(changes) == most
    assert len(set(changes)) == len(changes)


def test_most_moves_of_the_top_are_steps() -> None:
    """70 %, steps and repeats together: common practice, no source."""
    leaps = np.stack([OTHER * 4] * 9)
    own = [[0, 2], [2, 0]] * 5
    path = whole(own, leaps=leaps).solve()
    assert sum(one != other for one, other in pairwise(path)) <= 0.3 * 9
    often = whole(own, leaps=leaps)
    often.weigh([5] * 10)
    assert sum(one != other for one, other in pairwise(often.solve())) == 9


def test_a_short_line_may_skip_once() -> None:
    """Hits may be more than is known when the chords are found: it is judged as of eight moves."""
    leaps = np.stack([OTHER * 4] * 4)
    path = whole([[0, 2], [2, 0]] * 2 + [[0, 2]], leaps=leaps).solve()
    assert sum(one != other for one, other in pairwise(path)) <= 1


def test_what_rings_without_a_hit_has_a_top_note_too() -> None:
    """Five bells and five hits are ten top notes: nine moves, of which at most 30 % may skip."""
    leaps = np.stack([OTHER * 4] * 9)
    ringing = whole([[0, 2], [2, 0]] * 5, leaps=leaps)
    ringing.weigh([0] * 5 + [1] * 5)
    path = ringing.solve()
    assert sum(one != other for one, other in pairwise(path)) <= 0.3 * 9


def test_bells_do_not_thin_the_grips_that_are_struck() -> None:
    """A unit that is never hit has its voices one by one: only hits count."""
    voices = np.ones((5, 2), dtype=np.int64) * [4, 3]
    mixed = whole([[0, 1]] * 5, voices=voices, last_dominant=4)
    mixed.weigh([0, 0, 2, 2, 1])
    path = mixed.solve()
    assert path == [0, 0, 1, 1, 0]


def test_where_no_path_keeps_all_bounds_the_best_one_is_taken() -> None:
    """Not the last that was looked at."""
    voices = np.ones((4, 3), dtype=np.int64) * [4, 4, 4]
    leaps = np.zeros((3, 3, 3), dtype=np.int64)
    leaps[:, 0] = leaps[:, :, 0] = 7
    leaps[:, 0, 0] = 0
    own = [[0, 9, 9], [9, 0, 9], [0, 9, 9], [9, 0, 9]]
    problem = whole(own, voices=voices, leaps=leaps)
    path = problem.solve()
    assert sum(leap > 5 for leap in leaps[np.arange(3), path[:-1], path[1:]]) <= 1


def test_a_long_chord_weighs_more_than_a_short_one() -> None:
    """It is struck more often: 4 3 3 3 3 is thin enough, but not where the first lasts two bars."""
    voices = np.ones((5, 2), dtype=np.int64) * [4, 3]
    own = [[0, 0.3], [9, 0], [9, 0], [9, 0], [9, 0]]
    assert whole(own, voices=voices).solve()[0] == 0
    assert whole(own, voices=voices, weights=np.array([7680, 1920, 1920, 1920, 1920])).solve()[0] == 1


def test_what_is_struck_is_what_counts() -> None:
    """One chord in four hits is thin; a plain shell that no hit sounds is none."""
    one = whole([[0.0, 0.5]], voices=ALL[:1] * [4, 3])
    one.weigh([4])
    assert one.solve() == [1]
    plain = np.array([[False, True]] * 3)
    struck_once = whole([[0, 1.0], [0, 4.0], [0, 1.0]], plain=plain)
    struck_once.weigh([0, 2, 0])
    assert struck_once.solve() == [0, 1, 0]


def test_the_last_dominant_is_one_that_is_struck() -> None:
    held_over = whole([[0, 1]] * 4, chords=[0, 1, 2, 2], last_dominant=3)
    held_over.weigh([1, 1, 1, 0])
    assert held_over.last_dominant == 2


def test_one_plain_shell_is_worth_a_colour_and_a_second_is_not() -> None:
    plain = np.array([[False, True]] * 4)
    assert sum(whole([[0, 4.0]] * 4, plain=plain).solve()) == 1
    assert sum(whole([[0, 12.0]] * 4, plain=plain).solve()) == 0


def test_of_many_hits_one_is_a_plain_shell_whatever_it_costs() -> None:
    """Eight hits and no shell is too rich: common practice, no source."""
    plain = np.array([[False, False], [False, True], [False, False], [False, False]])
    own = [[0, 20], [0, 20], [0, 20], [0, 20]]
    few = whole(own, plain=plain.copy())
    few.weigh([1] * 4)
    assert few.solve() == [0, 0, 0, 0]
    many = whole(own, plain=plain.copy())
    many.weigh([2] * 4)
    assert many.solve() == [0, 1, 0, 0]
