from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from introit.arrange.arranger import ready
from introit.arrange.count_off import CLICK_PITCH, HAT_PITCH, count_off
from introit.arrange.line_up import ClickSound, Stage
from introit.library.model import Library
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


def test_the_click_is_general_midis_side_stick_and_the_hat_its_pedal_hi_hat() -> None:
    """Percussion keys 37 and 44 ([GM-P])."""
    assert (CLICK_PITCH, HAT_PITCH) == (37, 44)


@pytest.mark.parametrize(
    ("meter", "bars", "beats"),
    [
        (0, 0, []),
        (0, 2, [-7, -5, -3, -1]),
        (1, 1, [-2, -1]),
        (2, 1, [-4, -1]),
    ],
)
def test_in_the_house_hat_and_stick_are_together_on_the_back_beats(
    make: Any, meter: int, bars: int, beats: list[int]
) -> None:
    """2 and 4; in 3/4 2 and 3, in 5/4 2 and 5: common practice, no source."""
    notes = count_off(make.meters[meter], bars, level=70, sound=ClickSound.TWO_AND_FOUR)
    assert [(note.onset / 960, note.pitch) for note in notes] == [
        (beat, pitch) for beat in beats for pitch in (37, 44)
    ]
    assert {PARTS[note.part] for note in notes} <= {"click"}
    assert all(note.velocity == 70 and note.end < 0 for note in notes)


@pytest.mark.parametrize(
    ("sound", "expected"),
    [
        (ClickSound.BEATS, [(-4, 37), (-3, 37), (-2, 37), (-1, 37)]),
        (ClickSound.TWO_AND_FOUR, [(-3, 37), (-3, 44), (-1, 37), (-1, 44)]),
    ],
)
def test_a_performance_is_counted_off_as_its_stage_hears_it(
    sound: ClickSound, expected: list[tuple[int, int]], shipped: Library
) -> None:
    tune = replace(shipped.tunes["late-bus-to-orrin"], count_off=1)
    performance = ready(tune, tune.key, shipped, stage=Stage(click=sound))
    counted = [note for note in performance.notes if PARTS[note.part] == "click"]
    assert [(note.onset / 960, note.pitch) for note in counted] == expected
    assert performance.start_tick == -4 * 960
