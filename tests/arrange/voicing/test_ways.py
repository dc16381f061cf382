from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
import pytest

from introit.arrange.voicing.candidates import Candidates
from introit.arrange.voicing.choice import candidates_for
from introit.arrange.voicing.material import material_of
from introit.arrange.voicing.ways import (
    FORBIDDEN,
    SAME_AGAIN,
    SAME_FORM,
    SAME_GRIP,
    Alike,
    Stand,
    alike,
    jumps,
    ways,
)
from introit.theory.fretboard import Fretboard

NECK = Fretboard()


def stand(voice: Any, numeral: str, *, neck: Fretboard | None = None, pedal: str | None = None) -> Stand:
    material = material_of(voice.planned(numeral, pedal=pedal))
    found = candidates_for(material, voice.wish(ceiling=74, floor=48), voice.board(neck))
    return Stand(found, material.guides, material.tensions)


@pytest.mark.parametrize(
    ("before", "after", "pedal", "expected"),
    [
        ("ii9", "ii9", None, Alike(SAME_AGAIN, 0.0)),
        ("ii9", "V13", None, Alike(SAME_GRIP, SAME_FORM)),  # the root rises by a fourth
        ("V13", "bVI7", None, Alike(SAME_GRIP, 0.0)),
        (
            "ii9",
            "V13",
            "G",
            Alike(FORBIDDEN, SAME_FORM),
        ),  # over one bass only the grip tells the chords apart
    ],
)
def test_what_moving_nothing_costs(
    before: str, after: str, pedal: str | None, expected: Alike, voice: Any
) -> None:
    assert alike(voice.planned(before, pedal=pedal), voice.planned(after, pedal=pedal)) == expected


@pytest.mark.parametrize("neck", [None, NECK])
def test_every_way_is_reckoned_by_its_own_two_candidates(neck: Fretboard | None, voice: Any) -> None:
    """Whoever stands beside them in the tables: one candidate alone gives the same figures."""
    before, after = stand(voice, "ii9", neck=neck), stand(voice, "V13", neck=neck)
    found = ways(before, after, Alike(0.0, 0.0), neck)
    assert found.shape == (len(before.candidates.voicings), len(after.candidates.voicings))
    for row, column in ((0, 0), (3, 1), (found.shape[0] - 1, found.shape[1] - 1)):
        alone = ways(only(before, row), only(after, column), Alike(0.0, 0.0), neck)
        assert alone.item() == pytest.approx(found[row, column], abs=1e-4)


def only(one: Stand, row: int) -> Stand:
    """A chord with one of its candidates alone."""
    tables = {field.name: getattr(one.candidates, field.name)[row : row + 1] for field in fields(Candidates)}
    return one._replace(candidates=Candidates(**tables))


def test_the_hand_jumps_where_it_moves_over_four_frets_from_one_position_to_another() -> None:
    """None to or from open strings, which it takes wherever it is."""
    found = jumps(np.array([0, 1, 7]), np.array([0, 5, 6, 12]))
    assert found.tolist() == [[False] * 4, [False, False, True, True], [False, False, False, True]]


def test_the_same_grip_and_the_same_form_cost_what_is_asked(voice: Any) -> None:
    before, after = stand(voice, "ii9"), stand(voice, "ii7")
    free = ways(before, after, Alike(0.0, 0.0), None)
    dear = ways(before, after, Alike(7.0, 3.0), None)
    grips = [[each.pitches for each in one.candidates.voicings] for one in (before, after)]
    codes = [one.candidates.codes for one in (before, after)]
    expected = [
        [
            7.0 * (one == other) + 3.0 * bool(codes[0][row] == codes[1][column])
            for column, other in enumerate(grips[1])
        ]
        for row, one in enumerate(grips[0])
    ]
    assert np.array(expected).max() >= 7.0  # there are grips that both chords share
    assert np.allclose(dear - free, expected, atol=1e-4)


def test_what_was_priced_is_not_priced_again(voice: Any) -> None:
    asked = (stand(voice, "ii9"), stand(voice, "V9"), Alike(1.0, 0.0), None)
    assert ways(*asked) is ways(*asked)
