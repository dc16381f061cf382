"""The least costly way through rows of choices, by dynamic programming. Numbers only, no music."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Prices = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]


def best_path(own: Prices, moves: Prices, *, marked: Marks | None = None, reward: float = 0.0) -> list[int]:
    """Index of the choice taken in each row, so that the sum of all prices is least.

    Args:
        own: (u, n) what each choice costs by itself.
        moves: (u - 1, n, n) what each move from one row to the next costs; before, after.
        marked: (u, n) choices of which one somewhere is worth `reward`, however many there are.
        reward: taken off the sum once, from 0.
    """
    before = _costs_up_to(own, moves)
    path = _back(before, moves, len(own) - 1, int(before[-1].argmin()))
    if marked is None or not reward or not marked.any():
        return path
    if any(marked[row, choice] for row, choice in enumerate(path)):
        return path  # the cheapest without a reward has it already
    after = _costs_from(own, moves)
    through = np.where(marked, np.stack(before) + after, np.inf)
    row, choice = divmod(int(through.argmin()), own.shape[1])
    if through[row, choice] - reward > before[-1].min():
        return path
    return [*_back(before, moves, row, choice), *_onwards(after, own, moves, row, choice)]


def _costs_up_to(own: Prices, moves: Prices) -> list[Prices]:
    """What the cheapest way to each choice costs, the choice counted."""
    costs = [own[0]]
    for row in range(1, len(own)):
        costs.append(np.minimum.reduce(costs[-1][:, None] + moves[row - 1]) + own[row])
    return costs


def _costs_from(own: Prices, moves: Prices) -> Prices:
    """What the cheapest way on from each choice costs, the choice not counted: (u, n)."""
    costs = np.zeros(own.shape)
    for row in range(len(own) - 2, -1, -1):
        costs[row] = np.minimum.reduce(moves[row] + (own[row + 1] + costs[row + 1]), axis=1)
    return costs


def _back(before: list[Prices], moves: Prices, row: int, choice: int) -> list[int]:
    """The cheapest way to a choice, from the first row."""
    path = [choice]
    for earlier in range(row - 1, -1, -1):
        path.append(int((before[earlier] + moves[earlier][:, path[-1]]).argmin()))
    return path[::-1]


def _onwards(after: Prices, own: Prices, moves: Prices, row: int, choice: int) -> list[int]:
    """The cheapest way on from a choice, which is not in it."""
    path = [choice]
    for later in range(row + 1, len(own)):
        path.append(int((moves[later - 1][path[-1]] + own[later] + after[later]).argmin()))
    return path[1:]
