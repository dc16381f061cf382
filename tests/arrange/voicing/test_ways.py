from __future__ import annotations

from typing import Any

import numpy as np
import pytest

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
    assert found.prices.shape == (len(before.candidates.voicings), len(after.candidates.voicings))
    tops = [
        np.array([each.top for each in one.candidates.voicings], dtype=np.int64) for one in (before, after)
    ]
    assert np.array_equal(found.leaps, np.abs(tops[0][:, None] - tops[1][None]))
    if neck is None:
        assert found.jumps is None
    else:
        assert found.jumps is not None
        positions = [one.candidates.positions for one in (before, after)]
        far = np.abs(positions[0][:, None] - positions[1][None]) > 4
        assert np.array_equal(found.jumps, far & (positions[0][:, None] > 0) & (positions[1][None] > 0))


def test_the_same_grip_and_the_same_form_cost_what_is_asked(voice: Any) -> None:
    before, after = stand(voice, "ii9"), stand(voice, "ii7")
    free = ways(before, after, Alike(0.0, 0.0), None).prices
    dear = ways(before, after, Alike(7.0, 3.0), None).prices
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
