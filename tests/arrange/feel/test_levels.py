"""Levels: one arc, weights, the top voice. All of it common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from statistics import fmean
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.feel import played
from introit.arrange.feel.levels import arc
from introit.arrange.feel.levels import levels as levels_of
from introit.arrange.line_up import LineUp
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, RIDE, ScoreNote

HEAD = 8 * 3840
HALVES = range(0, HEAD, 1920)


def levels(score: Any, feel: Any, part: int) -> list[int]:
    return [note.velocity for note in played(score, feel) if note.part == part]


@pytest.mark.parametrize(("last_bar", "peak"), [("digs in", 1.0), ("lets go", 0.7)])
def test_one_arc_rises_to_its_top_and_falls_only_after_it(last_bar: str, peak: float) -> None:
    shares = [step / 100 for step in range(101)]
    values = [arc(share, last_bar) for share in shares]
    at_top = shares[values.index(max(values))]
    assert at_top == pytest.approx(peak, abs=0.011)
    before, after = values[: values.index(max(values)) + 1], values[values.index(max(values)) :]
    assert all(softer < louder for softer, louder in pairwise(before))
    assert all(louder > softer for louder, softer in pairwise(after))
    assert max(values) - min(values) >= 20


def test_the_last_bar_digs_in_or_lets_go(make: Any, scored: Any) -> None:
    notes = [ScoreNote(tick, 960, 0, BASS, 40) for tick in HALVES]
    digging, letting = (
        levels(scored(*notes), replace(make.feel, last_bar=word), BASS) for word in ("digs in", "lets go")
    )
    assert max(digging) == digging[-1]
    assert letting[-1] < max(letting) - 8


@pytest.mark.parametrize("part", [MELODY, COMP, BASS, PEDAL, RIDE])
@pytest.mark.parametrize("last_bar", ["digs in", "lets go"])
def test_every_part_covers_twenty_units(make: Any, scored: Any, part: int, last_bar: str) -> None:
    """Even where it plays on even beats of one pitch, in the second half alone."""
    feel = replace(make.feel, last_bar=last_bar)
    for ticks in (HALVES, [tick for tick in HALVES if tick >= HEAD // 2]):
        found = levels(scored(*(ScoreNote(tick, 960, 0, part, 60) for tick in ticks)), feel, part)
        assert max(found) - min(found) >= 20


def test_the_range_is_there_where_the_softest_note_is_a_top_voice(make: Any, scored: Any) -> None:
    """One pair of hands: a bass note under the first note of the comp makes it the top of a grip."""
    comp = [ScoreNote(tick, 960, 0, COMP, 60) for tick in HALVES]
    score = scored(ScoreNote(0, 960, 0, BASS, 40), *comp, line_up=LineUp.SOLO_GUITAR)
    found = levels(score, make.feel, COMP)
    assert max(found) - min(found) >= 20


def test_a_single_note_has_its_parts_level(make: Any, scored: Any) -> None:
    (level,) = levels(scored(ScoreNote(HEAD // 2, 960, 0, BASS, 40)), make.feel, BASS)
    assert abs(level - make.feel.velocity["bass"]) <= 12


@pytest.mark.parametrize("line_up", [LineUp.WITH_BASS, LineUp.WITH_KEYS, LineUp.TRIO, LineUp.SOLO_GUITAR])
def test_the_top_voice_lies_6_to_12_over_its_grip(make: Any, scored: Any, grip: Any, line_up: LineUp) -> None:
    notes = [note for tick in HALVES for note in grip(tick, 960)]
    score = scored(*notes, line_up=line_up)
    sounding = played(score, make.feel)
    for at in range(0, len(sounding), 4):
        *inner, top = (note.velocity for note in sounding[at : at + 4])
        assert len(set(inner)) == 1
        assert 6 <= top - inner[0] <= 12


def test_in_one_pair_of_hands_the_melody_is_the_top_voice(make: Any, scored: Any, grip: Any) -> None:
    melody = [ScoreNote(tick, 960, 0, MELODY, 72) for tick in HALVES]
    bass = [ScoreNote(tick, 960, 0, BASS, 40) for tick in HALVES]
    under = [note for tick in HALVES for note in grip(tick, 960, pitches=(55, 60, 64))]
    score = scored(*melody, *bass, *under, line_up=LineUp.SOLO_GUITAR)
    by_part: dict[int, list[int]] = {}
    for note in played(score, make.feel):
        by_part.setdefault(note.part, []).append(note.velocity)
    for number, top in enumerate(by_part[MELODY]):
        for velocity in (by_part[BASS][number], *by_part[COMP][3 * number : 3 * number + 3]):
            assert 6 <= top - velocity <= 12


def test_accents_are_louder_and_ghosts_softer(make: Any, scored: Any, grip: Any) -> None:
    plain = [note for tick in HALVES for note in grip(tick, 960)]

    def level(onset: int, length: int, *, accent: bool = False) -> int:
        score = scored(*plain, *grip(onset, length, accent=accent))
        return next(
            note.velocity for note in played(score, make.feel) if onset - 10 < note.onset < onset + 240
        )

    assert level(12_480, 960, accent=True) >= level(12_480, 960) + 6
    assert level(12_960, 240) < level(12_960, 720)  # an off-beat dab, and a held one


def test_a_walking_bass_leans_on_two_and_four_and_ghosts_its_skips(make: Any, scored: Any) -> None:
    walk = [ScoreNote(tick, 960, 0, BASS, 40) for tick in range(0, HEAD, 960)]
    skips = [ScoreNote(tick + 480, 480, 0, BASS, 43) for tick in range(960, HEAD, 3840)]
    found = levels(scored(*walk, *skips), make.feel, BASS)
    one, two, skip, three = found[0:4]
    assert skip < one < two
    assert skip < three < two + 2


def test_a_line_swells_as_it_rises(make: Any, scored: Any) -> None:
    waves = [ScoreNote(tick, 1920, 0, MELODY, 72 if tick % 3840 == 0 else 60) for tick in HALVES]
    found = levels(scored(*waves), replace(make.feel, last_bar="digs in"), MELODY)
    assert all(high > low for high, low in zip(found[::2], found[1::2], strict=True))


def test_a_phrase_in_a_low_register_is_no_softer(make: Any, scored: Any) -> None:
    """A phrase swells against itself: one that answers an octave lower keeps the arc."""
    shape = [(0, 0), (480, 2), (960, 4), (1440, 5)]
    phrases = [(2 * 3840, 72), (6 * 3840, 60)]
    notes = [ScoreNote(at + tick, 480, 0, MELODY, low + up) for at, low in phrases for tick, up in shape]
    found = levels(scored(*notes), replace(make.feel, last_bar="digs in"), MELODY)
    assert all(later > earlier for earlier, later in zip(found[:4], found[4:], strict=True))


@pytest.mark.parametrize("texture", ["two-hand", "harmonised arpeggio", "common tone"])
def test_a_comp_that_sings_for_a_while_goes_on_at_its_level(
    make: Any, scored: Any, grip: Any, texture: str
) -> None:
    """The same grips as in a texture that does not sing: it is the same player, in the same seat."""
    notes = [note for tick in HALVES for note in grip(tick, 960)]
    singing, plain = (levels(scored(*notes, texture=name), make.feel, COMP) for name in (texture, "block"))
    assert all(0 <= sung - comped <= 6 for sung, comped in zip(singing, plain, strict=True))


@given(
    hits=st.lists(
        st.tuples(st.sampled_from(range(0, HEAD, 480)), st.sampled_from([MELODY, COMP, BASS]), st.booleans()),
        min_size=16,
        max_size=60,
        unique_by=lambda hit: hit[:2],
    ),
    last_bar=st.sampled_from(["digs in", "lets go"]),
)
def test_no_bar_falls_back_far_between_two_louder_ones(
    make: Any, scored: Any, hits: list[tuple[int, int, bool]], last_bar: str
) -> None:
    """At most the 8 units of the review's measure, wherever the accents fall."""
    notes = [ScoreNote(tick, 480, 0, part, 40 + 12 * part, accent) for tick, part, accent in hits]
    score = scored(*notes)
    sounding = sorted(
        zip(
            score.notes,
            levels_of(
                score.notes,
                score.plan,
                replace(make.feel, last_bar=last_bar),
                swings=True,
                players=[note.part for note in score.notes],
            ),
            strict=True,
        )
    )
    usual = {
        part: fmean(level for note, level in sounding if note.part == part)
        for part in {n.part for n in score.notes}
    }
    by_bar: dict[int, list[float]] = {}
    for note, level in sounding:
        by_bar.setdefault(note.onset // 3840, []).append(level - usual[note.part])
    bars = [fmean(by_bar[bar]) for bar in sorted(by_bar)]
    for at in range(1, len(bars) - 1):
        assert min(max(bars[:at]), max(bars[at + 1 :])) - bars[at] <= 8


@given(
    base=st.integers(1, 127),
    part=st.sampled_from([MELODY, COMP, BASS, PEDAL, RIDE]),
    notes=st.lists(
        st.tuples(st.integers(0, HEAD - 1), st.integers(1, 4000), st.integers(0, 127), st.booleans()),
        min_size=1,
        max_size=20,
    ),
)
def test_no_level_leaves_midi(
    make: Any, scored: Any, base: int, part: int, notes: list[tuple[int, int, int, bool]]
) -> None:
    feel = replace(make.feel, velocity=dict.fromkeys(make.feel.velocity, base))
    score = scored(*(ScoreNote(on, length, 0, part, pitch, accent) for on, length, pitch, accent in notes))
    assert all(1 <= note.velocity <= 127 for note in played(score, feel))
