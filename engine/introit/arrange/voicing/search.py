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
    marks = np.zeros(own.shape, dtype=np.bool_) if marked is None else marked
    totals = [_entered(np.stack([own[0], np.full(own.shape[1], np.inf)]), marks[0], reward)]
    for row in range(1, len(own)):
        through = (totals[-1][:, :, None] + moves[row - 1]).min(axis=1) + own[row]
        totals.append(_entered(through, marks[row], reward))
    return _back(totals, moves, marks, reward)


def _entered(totals: Prices, marks: Marks, reward: float) -> Prices:
    """Totals (2, n) without and with a marked choice so far, once those of a row count."""
    without, with_mark = totals
    return np.stack(
        [
            np.where(marks, np.inf, without),
            np.where(marks, np.minimum(with_mark, without - reward), with_mark),
        ]
    )


def _back(totals: list[Prices], moves: Prices, marks: Marks, reward: float) -> list[int]:
    """The path whose total is least, read from its end."""
    layer, choice = divmod(int(totals[-1].argmin()), totals[-1].shape[1])
    path = [choice]
    for row in range(len(totals) - 1, 0, -1):
        before = totals[row - 1] + moves[row - 1][:, choice]
        if layer and marks[row, choice]:
            before = before - np.array([[reward], [0.0]])
        else:
            before[1 - layer] = np.inf
        layer, choice = divmod(int(before.argmin()), before.shape[1])
        path.append(choice)
    return path[::-1]
