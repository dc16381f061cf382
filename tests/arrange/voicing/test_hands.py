from __future__ import annotations

import random

import pytest

from introit.arrange.voicing.hands import fingers_of, hand_prices, positions_of, shifts, stops_of
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard
from introit.theory.grip import Grip
from introit.theory.holding import FrettingHand
from introit.theory.move import move

NECK = Fretboard()


def some_fingerings(count: int) -> list[Fingering]:
    hand, dice = FrettingHand(NECK), random.Random(5)
    found: list[Fingering] = []
    while len(found) < count:
        base = dice.randint(0, 9)
        frets = [-1] * 6
        for row in dice.choice(((0, 2, 3), (1, 2, 3, 4), (2, 3, 4, 5), (0, 2, 3, 4), (2, 3, 4), (3, 4))):
            frets[row] = base + dice.randint(0, 3)
        answer = hand.hold(Grip(tuple(frets)))
        if isinstance(answer, Fingering):
            found.append(answer)
    return found


def test_the_tables_reckon_as_one_move_does() -> None:
    """The same figures as `theory.move.move`, which has tests of its own."""
    rows = [some_fingerings(12), some_fingerings(24)[12:]]
    positions = [positions_of(row) for row in rows]
    fingers = [fingers_of(stops_of(row), at, NECK) for row, at in zip(rows, positions, strict=True)]
    prices, frets = hand_prices(*fingers), shifts(*positions)
    assert prices.shape == frets.shape == (12, 12)
    for one, before in enumerate(rows[0]):
        for other, after in enumerate(rows[1]):
            moved = move(before, after, NECK)
            assert prices[one, other] == pytest.approx(moved.cost)
            assert frets[one, other] == abs(moved.shift_frets)
