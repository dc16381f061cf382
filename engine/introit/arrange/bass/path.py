"""The smoothest bass line through given choices, by dynamic programming. Weights: judgement, no source."""

from __future__ import annotations

from collections.abc import Sequence

Choice = dict[int, float]
"""MIDI note -> price."""

LEADING_STEPS = frozenset({1, 2, 5, 7})
"""Semitones from the last bass note to the head's root: step, fourth or fifth."""

_FORBIDDEN = 50.0
_REPEAT_WALKING = 2.5
_REPEAT = 0.5
# Price of a leap by semitones; a longer one costs `_FAR` and more.
_LEAPS = (0.0, 0.0, 0.0, 0.3, 0.3, 0.3, 0.9, 0.5, 1.2, 1.4, 2.2, 2.6, 1.2)
_FAR = 4.0


def cheapest_line(
    choices: Sequence[Choice], *, goal: Choice, approaches: Sequence[bool], walking: bool
) -> list[int]:
    """A pitch for each step.

    Args:
        choices: what each step may play.
        goal: where the line leads: the head's root in its octaves.
        approaches: for each step, whether it must lie a half or whole step from the next one.
        walking: True to avoid the same pitch twice running.
    """
    repeat = _REPEAT_WALKING if walking else _REPEAT
    costs = [dict(choices[0])]
    origins: list[dict[int, int]] = []
    for options, approach in zip([*choices[1:], goal], approaches, strict=True):
        is_goal = len(costs) == len(choices)
        price = _into_head if is_goal else _into_next if approach else _leap
        before = costs[-1]
        column, origin = {}, {}
        for pitch, own in options.items():
            best, last = min(
                (cost + price(abs(pitch - from_), repeat), from_) for from_, cost in before.items()
            )
            column[pitch], origin[pitch] = best + own, last
        costs.append(column)
        origins.append(origin)
    return _traced(costs[-1], origins)


def _traced(last: Choice, origins: Sequence[dict[int, int]]) -> list[int]:
    pitch = min(last, key=lambda note: (last[note], note))
    line: list[int] = []
    for origin in reversed(origins):
        pitch = origin[pitch]
        line.append(pitch)
    return line[::-1]


def _leap(interval: int, repeat: float) -> float:
    if interval == 0:
        return repeat
    return _LEAPS[interval] if interval < len(_LEAPS) else _FAR + 0.2 * interval


def _into_next(interval: int, repeat: float) -> float:
    return 0.0 if interval in (1, 2) else _FORBIDDEN + _leap(interval, repeat)


def _into_head(interval: int, repeat: float) -> float:
    return _leap(interval, repeat) if interval in LEADING_STEPS else _FORBIDDEN + _leap(interval, repeat)
