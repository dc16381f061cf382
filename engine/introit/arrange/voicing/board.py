"""What the comp is played on, and the hand that holds its grips."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard
from introit.theory.grip import Grip
from introit.theory.hand import Hand
from introit.theory.holding import FrettingHand
from introit.theory.plucking import Plucking, why_not_plucked


class Board(NamedTuple):
    """What the comp is played on: a neck and what sounds its strings, or keys where there is no neck."""

    neck: Fretboard | None
    plucking: Plucking = Plucking.FINGERS


@lru_cache(maxsize=8)
def hand_on(board: Board) -> FrettingHand | None:
    """The hand that holds the grips of a board; None on keys. One a board, for it remembers."""
    if board.neck is None:
        return None
    return FrettingHand(board.neck, Hand(damps=board.plucking is Plucking.PICK))


@lru_cache(maxsize=65536)
def held(frets: tuple[int, ...], board: Board) -> Fingering | None:
    """How a grip is held and sounded on a board; None where it is not.

    Args:
        frets: one a string from the lowest, as in `Grip.frets`.
        board: with a neck.
    """
    hand = hand_on(board)
    if hand is None:
        return None
    fingering = hand.hold(Grip(frets))
    if isinstance(fingering, Fingering) and not why_not_plucked(fingering, board.plucking):
        return fingering
    return None
