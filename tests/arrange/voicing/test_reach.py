"""What lies in reach over a grip: placed by hand, and never stricter than the hand of `theory` itself."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Any

import numpy as np
import pytest

from introit.arrange.voicing.choice import candidates_for
from introit.arrange.voicing.placing import ABSENT, Placed
from introit.arrange.voicing.reach import out_of_reach
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard
from introit.theory.grip import Grip
from introit.theory.holding import hand_on

NECK = Fretboard()
E4, A4, B4, C5, D5, F5 = 64, 69, 71, 72, 74, 77


def rows(*grips: Sequence[tuple[int, int]]) -> Placed:
    """Grips of (string, fret) pairs from the lowest voice up, all of as many voices or padded."""
    most = max(map(len, grips))
    padded = [[*grip, *[(0, ABSENT)] * (most - len(grip))] for grip in grips]
    pitches = [[NECK.pitch(*one) if one[1] != ABSENT else ABSENT for one in grip] for grip in padded]
    strings, frets = np.array(padded, dtype=np.int16).transpose(2, 0, 1)
    nothing = np.zeros(len(grips), dtype=np.int16)
    return Placed((), nothing, np.array(pitches, dtype=np.int16), strings, frets, nothing.astype(float))


LOW = 9
"""Up to here a hand spans no more frets than are reckoned with anywhere."""
SEVENTH = [(5, 5), (3, 5), (2, 6)]
"""D3 C4 F4 at the fifth fret, string 1 free."""


@pytest.mark.parametrize(
    ("over", "missed"),
    [
        ((A4,), 0),  # string 1, fret 5
        ((E4,), 0),  # string 1, open
        ([B4, C5], 0),  # frets 7 and 8
        ((D5,), 1),  # fret 10 lies five over the lowest
        ([A4, D5, F5], 2),
        ([62], 1),  # D4 lies on strings that the grip has, and under its top
    ],
)
def test_what_lies_in_reach_over_a_grip_at_the_fifth_fret(over: Sequence[int], missed: int) -> None:
    assert out_of_reach(rows(SEVENTH), over, NECK).tolist() == [missed]


def test_over_a_grip_that_has_the_first_string_nothing_lies() -> None:
    assert out_of_reach(rows([*SEVENTH, (1, 5)]), (B4,), NECK).tolist() == [1]


def test_each_grip_is_judged_by_itself_whatever_its_voices() -> None:
    open_strings = [(5, 0), (4, 2), (3, 0)]
    found = out_of_reach(rows(SEVENTH, open_strings, [*SEVENTH, (1, 5)]), (B4,), NECK)
    # A2 E3 G3 under the second fret: B4 lies at the seventh of string 1, and is no open string
    assert found.tolist() == [0, 1, 1]


def test_what_the_hand_holds_with_a_note_on_top_is_in_reach(voice: Any) -> None:
    """By the hand that the tests of `theory` hold against people's; high up it spans more frets."""
    hand, asked = hand_on(NECK), 0
    for symbol in ("Dm7", "G13", "Cmaj7", "F#m7b5", "Bb7"):
        for one, pitch in product(
            candidates_for(voice.material(symbol), voice.alone, voice.fingers).voicings, range(64, 82)
        ):
            top = min(place.string for place in one.places)
            for place in NECK.places(pitch):
                held = [*one.places, place]
                if place.string >= top or max(at.fret for at in held) > LOW or not _held(hand, held):
                    continue
                asked += 1
                assert out_of_reach(rows(one.places), [pitch], NECK).tolist() == [0], (one, place)
    assert asked > 200


def _held(hand: Any, places: Sequence[Any]) -> bool:
    return isinstance(hand.hold(Grip.from_places(places, strings=NECK.strings)), Fingering)
