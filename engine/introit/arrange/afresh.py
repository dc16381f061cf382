"""A playing that differs from the one before: thrown again while the comp falls alike."""

from __future__ import annotations

from collections.abc import Callable

from introit.arrange.score import COMP, Score
from introit.arrange.variation import dice

Comp = tuple[tuple[int, int], ...]
"""What the comp plays: (tick, MIDI note) of each of its notes, in order."""
TRIES = 16
"""How often it is thrown again at most: one chord has few good ways, and the same may keep coming."""


def comp_of(score: Score) -> Comp:
    """What the comp plays in a score."""
    return tuple((note.onset, note.pitch) for note in score.notes if note.part == COMP)


def written_afresh(write: Callable[[int], Score], seed: int, *, before: Comp | None) -> Score:
    """The score of a seed; where its comp is the one before, that of another seed.

    Which other seed follows from this one: so a seed after the same playing gives the same notes. Where every
    throw falls alike, it is the last.

    Args:
        write: the score of a seed.
        seed: of this playing.
        before: the comp of the playing before; None for a first one.
    """
    score = write(seed)
    for number in range(TRIES):
        if before is None or comp_of(score) != before:
            break
        score = write(dice(seed, "afresh", number).getrandbits(63))
    return score
