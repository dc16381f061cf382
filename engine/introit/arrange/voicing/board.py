"""What the comp is played on, and whether a hand holds and sounds a grip there."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard
from introit.theory.grip import Grip
from introit.theory.holding import hand_on
from introit.theory.plucking import Plucking, why_not_plucked


class Board(NamedTuple):
    """What the comp is played on: a neck and what sounds its strings, or keys where there is no neck."""

    neck: Fretboard | None
    plucking: Plucking = Plucking.FINGERS


@lru_cache(maxsize=65536)
def held(frets: tuple[int, ...], board: Board) -> Fingering | None:
    """How a grip is held and sounded on a board; None where it is not.

    Args:
        frets: one a string from the lowest, as in `Grip.frets`.
        board: with a neck.
    """
    if board.neck is None:
        return None
    fingering = hand_on(board.neck, damps=board.plucking is Plucking.PICK).hold(Grip(frets))
    if isinstance(fingering, Fingering) and not why_not_plucked(fingering, board.plucking):
        return fingering
    return None
