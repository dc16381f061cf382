from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.feel import late_line_ticks, played, swing_ratio, swung
from introit.arrange.plan import plan_intro
from introit.arrange.score import COMP, MELODY, Score, ScoreNote
from introit.library.model import Library

# TRADE 1b: the off-beat of a swung beat, in per cent of the beat, for the ratios in its columns (derived
# there from Friberg and Sundstroem's 100 ms and the soloists' 1.3 of Corcoran and Frieler 2021).
OFF_BEATS = [
    (3.5, 77.8),
    (3.29, 76.7),
    (2.75, 73.3),
    (2.33, 70.0),
    (2.0, 66.7),
    (1.5, 60.0),
    (1.3, 56.5),
    (1.0, 50.0),
]


@pytest.mark.parametrize(("ratio", "percent"), OFF_BEATS)
def test_the_off_beat_lies_where_the_ratio_puts_it(ratio: float, percent: float) -> None:
    assert swung(480, ratio) / 960 * 100 == pytest.approx(percent, abs=0.1)
    assert swung(960 * 7 + 480, ratio) == 960 * 7 + swung(480, ratio)


@given(st.integers(0, 20_000), st.integers(0, 20_000), st.floats(1, 3.5))
def test_swing_keeps_order_and_never_moves_a_beat(one: int, other: int, ratio: float) -> None:
    low, high = sorted((one, other))
    assert swung(low, ratio) <= swung(high, ratio)
    assert swung(960 * low, ratio) == 960 * low


@given(st.floats(40, 300), st.floats(40, 300))
def test_the_ratio_falls_as_the_tempo_rises(make: Any, one: float, other: float) -> None:
    """Friberg and Sundstroem 1997: approximately linear, falling (TRADE 1a)."""
    low, high = sorted((one, other))
    assert swing_ratio(make.feel, "comp", low) >= swing_ratio(make.feel, "comp", high)


def test_the_ratio_is_drawn_straight_between_points_and_held_beyond(make: Any) -> None:
    ratios = [swing_ratio(make.feel, "comp", tempo) for tempo in (60, 100, 150, 200, 250, 320)]
    assert ratios == pytest.approx([2.0, 2.0, 1.75, 1.5, 1.25, 1.0])
    assert swing_ratio(make.feel, "flute", 120) == 1.0


def test_no_shipped_swing_exceeds_the_published_top(shipped: Library) -> None:
    """3.5 : 1 is the highest reported ratio (Friberg and Sundstroem 1997, TRADE 1a); 1 : 1 is even."""
    for feel in shipped.feels.values():
        for kind in feel.swing:
            assert all(1 <= swing_ratio(feel, kind, tempo) <= 3.5 for tempo in range(30, 401, 10))


def test_soloists_play_straighter_than_drummers(shipped: Library) -> None:
    """Butterfield 2011: soloists play straighter eighths than drummers (TRADE 1a)."""
    for feel in shipped.feels.values():
        for tempo in range(60, 320, 20):
            assert swing_ratio(feel, "line", tempo) <= swing_ratio(feel, "ride", tempo)


def test_a_late_line_at_150_is_what_was_measured(make: Any) -> None:
    """Nelias et al. 2022: about 30 ms at about 150 to the minute (TRADE 1c)."""
    assert late_line_ticks(make.feel, 150) / 960 * 400 == pytest.approx(30, abs=0.5)


def test_lateness_falls_with_the_tempo_and_keeps_the_solo_ratio_above_one(make: Any) -> None:
    """TRADE 1c: falling; a fixed 30 ms at 240 would push the solo ratio below 1, so it is scaled down."""
    late_ms = [late_line_ticks(make.feel, tempo) * 60_000 / 960 / tempo for tempo in range(120, 320, 20)]
    assert late_ms == sorted(late_ms, reverse=True)
    for tempo in range(120, 320, 20):
        late = late_line_ticks(make.feel, tempo)
        off_beat = swung(480, swing_ratio(make.feel, "line", tempo))
        assert (off_beat - late) / (960 + late - off_beat) >= 0.8
    assert late_line_ticks(make.feel, 320) == 0


def score_of(make: Any, library: Library, *notes: ScoreNote, **fields: Any) -> Score:
    tune = make.tune(tempo=150.0)
    plan = plan_intro(make.intro(make.form("ii7 V7 | Imaj7"), **fields), tune, tune.key)
    return Score(plan, notes)


def test_on_beats_of_the_line_are_late_and_off_beats_are_not(make: Any, plain_library: Library) -> None:
    on, off = ScoreNote(960, 480, 0, MELODY, 72), ScoreNote(1440, 480, 0, MELODY, 74)
    first, second = played(score_of(make, plain_library, on, off), make.feel)
    assert first.onset == 960 + late_line_ticks(make.feel, 150)
    assert second.onset == swung(1440, swing_ratio(make.feel, "line", 150))


def test_a_chord_is_strummed_upwards_and_its_top_voice_is_louder(make: Any, plain_library: Library) -> None:
    grip = [ScoreNote(0, 1920, 0, COMP, pitch) for pitch in (55, 60, 64, 69)]
    sounding = played(score_of(make, plain_library, *grip), make.feel)
    steps = {b.onset - a.onset for a, b in pairwise(sounding)}
    assert steps == {24}  # 10 ms at 150 to the minute is a fortieth of a beat
    assert {note.end for note in sounding} == {1920}
    assert sounding[-1].velocity > sounding[0].velocity == sounding[1].velocity == sounding[2].velocity


def onsets_ms(make: Any, *, length: int, tempo: float, texture: str = "rolled") -> list[float]:
    """When each of four strings on the first downbeat sounds, in milliseconds; the feel strums in 10."""
    tune = make.tune(tempo=tempo)
    plan = plan_intro(make.intro(make.form("ii7 V7 | Imaj7"), texture=texture), tune, tune.key)
    grip = tuple(ScoreNote(0, length, 0, COMP, pitch) for pitch in (55, 60, 64, 69))
    return [note.onset / 960 * 60_000 / tempo for note in played(Score(plan, grip), make.feel)]


# A strum of 8 to 25 ms a string, a ballad's roll of 30 to 70 ms: common practice, no source.
@pytest.mark.parametrize(
    ("tempo", "length", "step_ms"),
    [(60, 1920, 45), (80, 3840, 45), (90, 1920, 27.5), (60, 1440, 10), (100, 1920, 10), (140, 1920, 10)],
)
def test_only_long_chords_of_slow_tunes_are_rolled(
    make: Any, tempo: float, length: int, step_ms: float
) -> None:
    expected = [step_ms * string for string in range(4)]
    assert onsets_ms(make, length=length, tempo=tempo) == pytest.approx(expected, abs=2.5)


@pytest.mark.parametrize("texture", ["block", "rolled"])
@pytest.mark.parametrize("length", [120, 480, 960, 3840])
def test_a_strum_is_over_within_an_eighth_of_a_beat(make: Any, texture: str, length: int) -> None:
    for tempo in (100, 140, 180, 236, 300, 400):
        onsets = onsets_ms(make, length=length, tempo=tempo, texture=texture)
        assert onsets == sorted(set(onsets))
        assert onsets[0] == 0
        assert onsets[-1] <= 60_000 / tempo * min(1 / 8, length / 960 / 3)


def test_nothing_crosses_the_head_however_late(make: Any, plain_library: Library) -> None:
    very_late = replace(make.feel, late_line_ms=500)
    score = score_of(make, plain_library, ScoreNote(6720, 1920, 3840, MELODY, 72))
    (note,) = played(score, very_late)
    assert note.onset < note.end <= score.plan.head_tick


def test_accents_are_louder_and_levels_arch(make: Any, plain_library: Library) -> None:
    plain = [ScoreNote(tick, 480, 0, MELODY, 72) for tick in (0, 4800, 6720)]
    start, peak, end = (note.velocity for note in played(score_of(make, plain_library, *plain), make.feel))
    assert start < end < peak
    accented = played(score_of(make, plain_library, plain[0]._replace(accent=True)), make.feel)
    assert accented[0].velocity > start


def test_a_bar_is_played_as_worked_out_by_hand(make: Any, plain_library: Library) -> None:
    """At 150, where the feel's comp swings 1.75 : 1, its line 1.375 : 1, and the line's beats are 30 ms late.

    An off-beat of the comp lies at 1.75 / 2.75 of the beat (611 ticks), of the line at 1.375 / 2.375 (556);
    30 ms are 72 ticks; strings are 10 ms, 24 ticks, apart. The first note has six off its level of 84.
    """
    comp = [ScoreNote(480, 480, 0, COMP, 60), ScoreNote(480, 480, 0, COMP, 64)]
    line = [ScoreNote(0, 480, 0, MELODY, 76), ScoreNote(480, 480, 0, MELODY, 77)]
    notes = played(score_of(make, plain_library, line[0], line[1], *comp), make.feel)
    assert [(note.onset, note.end, note.pitch) for note in notes] == [
        (72, 556, 76),
        (556, 960, 77),
        (611, 960, 60),
        (635, 960, 64),
    ]
    assert [note.velocity for note in notes] == [78, 75, 59, 67]
