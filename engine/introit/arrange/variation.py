"""What differs from one playing of an intro to the next, and is the same again for the same seed."""

from __future__ import annotations

from random import Random


def dice(seed: int, *what: object) -> Random:
    """Dice for one decision, thrown afresh for each: `dice(7, "comping", 3)` always falls the same way.

    Decisions with dice of their own do not shift each other when one of them is taken differently.

    Args:
        seed: of the playing.
        what: names the decision; its text counts.
    """
    return Random("/".join(map(str, (seed, *what))))
