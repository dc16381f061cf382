"""The late line against what was measured: [N22]."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.feel import played
from introit.arrange.feel.lateness import late_line_ticks
from introit.arrange.feel.swing import swing_ratio, swung
from introit.arrange.line_up import LineUp
from introit.arrange.score import BASS, COMP, MELODY, ScoreNote
from introit.arrange.textures import TEXTURES
from introit.library.model import Library

SWINGING = ["medium-swing", "up-tempo-swing", "jazz-waltz", "five-four-swing"]


def ms(ticks: float, tempo: float) -> float:
    return ticks / 960 * 60_000 / tempo


def test_a_line_at_150_is_as_late_as_was_measured(shipped: Library) -> None:
    """[N22]: about 30 ms at about 150 to the minute; 85 of 960 ticks, 35 ms, by its other figure."""
    for name in SWINGING:
        assert 26 <= ms(late_line_ticks(shipped.feels[name], 150), 150) <= 35.4


def test_lateness_falls_and_in_ticks_nearly_straight(make: Any) -> None:
    """[N22]: clearly falling; nearly linear in ticks."""
    late = [late_line_ticks(make.feel, tempo) for tempo in range(150, 301, 10)]
    steps = [before - after for before, after in pairwise(late)]
    assert min(steps) > 0
    assert max(steps) - min(steps) <= 1
    assert late[-1] == late_line_ticks(make.feel, 320) == 0


@pytest.mark.parametrize("name", SWINGING)
def test_a_line_keeps_a_ratio_that_soloists_have(name: str, shipped: Library) -> None:
    """[N22]: 30 ms at every tempo would make the solo ratio less than 1 at 240; [KTH]: always below 2."""
    feel = shipped.feels[name]
    for tempo in range(int(feel.tempo[0]), int(feel.tempo[1]) + 1, 10):
        off_beat = swung(480, swing_ratio(feel, "line", tempo))
        assert 1.0 <= off_beat / (960 - off_beat) < 2


@pytest.mark.parametrize("name", [*SWINGING, "slow-swing", "shuffle", "ballad"])
def test_off_beats_of_the_line_lie_with_the_rhythm_section(name: str, shipped: Library) -> None:
    """[F02], [KTH] figure 2: off-beats together.

    Within 19 ms, below which listeners prefer a rhythm section to be ([Ho17]), and within which nobody hears
    a shift ([JND]: 19 to 24 ms for drums); where beats last longer than half a second, and nothing was
    measured, within the 35 ms of bass or guitar ([JND]).
    """
    feel = shipped.feels[name]
    for tempo in range(int(feel.tempo[0]), int(feel.tempo[1]) + 1, 5):
        ride, comp, line = (swung(480, swing_ratio(feel, who, tempo)) for who in ("ride", "comp", "line"))
        line += late_line_ticks(feel, tempo)
        bound = 19 if tempo >= 120 else 35
        assert abs(ms(line - comp, tempo)) <= bound, tempo
        assert abs(ms(line - ride, tempo)) <= bound, tempo


def pair(part: int) -> tuple[ScoreNote, ScoreNote]:
    return ScoreNote(960, 480, 0, part, 72), ScoreNote(1440, 480, 0, part, 74)


def test_a_separate_line_is_late_and_everybody_else_is_not(make: Any, scored: Any) -> None:
    notes = {
        part: [note.onset for note in played(scored(*pair(part)), make.feel)] for part in (MELODY, COMP, BASS)
    }
    late = late_line_ticks(make.feel, 150)
    assert late == 72  # 30 ms
    assert notes[MELODY] == [960 + late, swung(1440, swing_ratio(make.feel, "line", 150)) + late]
    assert notes[COMP] == notes[BASS] == [960, swung(1440, swing_ratio(make.feel, "comp", 150))]


def test_the_top_voice_of_one_pair_of_hands_is_never_late(make: Any, scored: Any) -> None:
    under = [note._replace(pitch=note.pitch - 9) for note in pair(COMP)]
    score = scored(*pair(MELODY), *under, line_up=LineUp.SOLO_GUITAR)
    off_beat = swung(1440, swing_ratio(make.feel, "comp", 150))
    onsets = [(note.part, note.onset) for note in played(score, make.feel)]
    finger = 3  # ticks, 1.25 ms, from one finger to the next
    assert onsets == [(MELODY, 960 + finger), (COMP, 960), (MELODY, off_beat + finger), (COMP, off_beat)]


def test_a_texture_that_sings_for_itself_is_never_late(
    make: Any, scored: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(TEXTURES, "rolled", replace(TEXTURES["rolled"], sings=True))  # type: ignore[type-var]
    first, second = played(scored(*pair(MELODY), texture="rolled"), make.feel)
    assert (first.onset, second.onset) == (960, swung(1440, swing_ratio(make.feel, "comp", 150)))


def test_a_late_note_is_joined_to_the_one_before_it(make: Any, scored: Any) -> None:
    off, on = ScoreNote(480, 480, 0, MELODY, 72), ScoreNote(960, 480, 0, MELODY, 74)
    first, second = played(scored(off, on), make.feel)
    assert first.end == second.onset > 960
    (alone,) = played(scored(off), make.feel)
    assert alone.end == 960
