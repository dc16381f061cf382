from __future__ import annotations

from typing import Any

import pytest

from introit.arrange.count_off import CLICK_PITCH, count_off
from introit.performance import PARTS


def counted(make: Any, meter: int, bars: int) -> list[float]:
    """Beats from the intro's first downbeat."""
    return [note.onset / 960 for note in count_off(make.meters[meter], bars)]


def test_two_bars_of_four_as_bands_count_them(make: Any) -> None:
    """`1 - 2 - | 1 2 3 4`: [CO1], gregorytechdrumcenter.com 2011."""
    assert counted(make, 0, 2) == [-8, -6, -4, -3, -2, -1]


@pytest.mark.parametrize(
    ("meter", "bars", "expected"),
    [
        (0, 0, []),
        (0, 1, [-4, -3, -2, -1]),
        (1, 2, [-6, -3, -2, -1]),
        (2, 2, [-10, -7, -5, -4, -3, -2, -1]),
    ],
)
def test_other_counts(make: Any, meter: int, bars: int, expected: list[float]) -> None:
    """One bar for slow pieces is normal ([CO1], [CO3]); 3/4 and 5/4: common practice, no source."""
    assert counted(make, meter, bars) == expected


def test_the_one_is_accented_and_all_is_over_before_the_downbeat(make: Any) -> None:
    notes = count_off(make.meters[0], 2, level=120)
    accents = {note.onset // 960 for note in notes if note.velocity > 120}
    assert accents == {-8, -4}
    assert max(note.end for note in notes) < 0
    assert {PARTS[note.part] for note in notes} == {"click"}
    assert all(1 <= note.velocity <= 127 for note in notes)


def test_the_click_is_general_midis_side_stick() -> None:
    """Percussion key 37 ([GM-P])."""
    assert CLICK_PITCH == 37
