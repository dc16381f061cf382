"""Whose a grip is where several chords follow over one bass."""

from __future__ import annotations

from typing import Any

import pytest

from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.scene import set_scene
from introit.arrange.voicing.choice import candidates_for
from introit.arrange.voicing.material import material_of
from introit.arrange.voicing.path import board_of
from introit.arrange.voicing.problem import SAME_TONES, problem_of
from introit.arrange.voicing.ways import FORBIDDEN, Stand
from introit.arrange.voicing.wish import Wish

PLAIN = Wish(ceiling=77, floor=48)
MOODS = 19.0
"""More than a playing's moods and the price of tensions come to."""


def dearer(make: Any, harmony: str) -> list[dict[tuple[int, ...], float]]:
    """For each chord, by the pitches of its candidates, what the problem adds to their own price."""
    tune = make.tune("C")
    scene = set_scene(plan_intro(make.intro(make.form(harmony)), tune, tune.key), Stage(LineUp.WITH_KEYS))
    board, units = board_of(scene), range(len(scene.units))
    materials = [material_of(scene.chord_of(unit), key=tune.key) for unit in units]
    found = [candidates_for(material, PLAIN, board) for material in materials]
    stands = [Stand(one, made.guides, made.tensions) for one, made in zip(found, materials, strict=True)]
    prices = problem_of(scene, units, [PLAIN] * len(units), stands, board).own
    return [
        {
            voicing.pitches: float(price - own)
            for voicing, price, own in zip(one.voicings, row, one.price, strict=False)
        }
        for one, row in zip(found, prices, strict=True)
    ]


@pytest.mark.parametrize(
    ("harmony", "price"),
    [("ii7/5 V9sus4 | Imaj7", SAME_TONES), ("V7 V13(b9) | Imaj7", FORBIDDEN)],
    ids=["the same tones", "other tones"],
)
def test_a_grip_that_two_chords_over_one_bass_have_is_given_to_one(
    make: Any, harmony: str, price: float
) -> None:
    """Else the change would be told by nobody; chords of the same tones may share it, at a price."""
    first, second, other = dearer(make, harmony)
    shared = first.keys() & second.keys()
    assert shared
    for pitches in shared:
        own, others = sorted((first[pitches], second[pitches]))
        assert abs(own) < MOODS
        assert abs(others - price) < MOODS
    for each in (first, second):
        assert all(abs(added) < MOODS for pitches, added in each.items() if pitches not in shared)
    assert all(abs(added) < MOODS for added in other.values())


def test_the_same_chord_again_shares_its_grips(make: Any) -> None:
    assert all(abs(added) < MOODS for each in dearer(make, "V13 | V13") for added in each.values())
