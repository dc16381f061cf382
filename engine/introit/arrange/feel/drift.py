"""Drift: a player wanders slowly about the beat and comes back; correlated from beat to beat, never noise."""

from __future__ import annotations

from math import sqrt
from random import Random

PERSISTENCE = 0.9
"""Share of a deviation that is left a beat later. A judgement, no source: a wander felt over a bar."""
SETTLING = 4
"""Beats before the head over which every player comes back to the beat."""


def walk(dice: Random, beats: int, deviation: float) -> list[float]:
    """Deviations at the beats 0 to `beats`, both included: a random walk that is drawn back to the beat.

    The first and the last are 0, and the root of the mean square is at most `deviation`.

    Args:
        dice: thrown once a beat.
        beats: beats to the head, over 0.
        deviation: in any unit; the result is in the same.
    """
    step, gauss = deviation * sqrt(1 - PERSISTENCE**2), dice.gauss
    free, walked = 0.0, [0.0]
    for _ in range(beats):
        free = PERSISTENCE * free + gauss(0.0, step)
        walked.append(free)
    for left in range(min(SETTLING, beats + 1)):
        walked[-1 - left] *= left / SETTLING
    size = sqrt(sum([value * value for value in walked]) / len(walked))
    scale = deviation / size if size > deviation else 1.0
    return [value * scale for value in walked]
