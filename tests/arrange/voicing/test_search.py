from __future__ import annotations

from itertools import pairwise, product

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.voicing.search import best_path


def price_of(
    path: tuple[int, ...], own: np.ndarray, moves: np.ndarray, marked: np.ndarray, reward: float
) -> float:
    price = sum(float(own[row, choice]) for row, choice in enumerate(path))
    price += sum(float(moves[row, one, other]) for row, (one, other) in enumerate(pairwise(path)))
    return price - reward * any(marked[row, choice] for row, choice in enumerate(path))


@given(st.integers(1, 5), st.integers(1, 4), st.sampled_from([0.0, 0.3, 2.0, 50.0]), st.integers(0, 10_000))
def test_the_path_is_the_cheapest_of_all(rows: int, choices: int, reward: float, seed: int) -> None:
    """Dynamic programming against trying every path there is."""
    dice = np.random.default_rng(seed)
    own, moves = dice.random((rows, choices)), dice.random((rows - 1, choices, choices))
    marked = dice.random((rows, choices)) < 0.3
    path = tuple(best_path(own, moves, marked=marked, reward=reward))
    least = min(price_of(each, own, moves, marked, reward) for each in product(range(choices), repeat=rows))
    assert abs(price_of(path, own, moves, marked, reward) - least) < 1e-9


def test_a_reward_is_paid_once() -> None:
    """Two marked choices are dearer by 1.5 each: worth it once for a reward of 2, not twice."""
    own = np.array([[0.0, 1.5], [0.0, 1.5]])
    marked = np.array([[False, True], [False, True]])
    assert sum(best_path(own, np.zeros((1, 2, 2)), marked=marked, reward=2.0)) == 1
    assert sum(best_path(own, np.zeros((1, 2, 2)), marked=marked, reward=1.0)) == 0


def test_without_marks_it_is_a_plain_search() -> None:
    own = np.array([[0.0, 1.0], [1.0, 0.0], [0.0, 1.0]])
    stay = np.array([[0.0, 5.0], [5.0, 0.0]])
    assert best_path(own, np.stack([stay, stay])) == [0, 0, 0]
    assert best_path(own, np.zeros((2, 2, 2))) == [0, 1, 0]
