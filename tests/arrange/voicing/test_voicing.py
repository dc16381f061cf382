from __future__ import annotations

from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from introit.arrange.plan import PlannedChord, plan_intro
from introit.arrange.voicing import voice_plan
from introit.arrange.voicing.candidates import BASS_HIGHEST, BASS_LOWEST, candidates_for, comp_floor
from introit.arrange.voicing.cost import movement_cost, nearness, presence
from introit.arrange.voicing.material import material_of
from introit.arrange.voicing.path import best_path
from introit.library.model import PedalPoint
from introit.theory.chord import Chord, chord_of
from introit.theory.key import Key, Mode, keys
from introit.theory.limits import is_muddy
from introit.theory.numeral import Numeral
from introit.theory.pitch import Tone

NUMERALS = [
    *("Imaj7", "Imaj9", "I6/9", "iii7", "iii11", "ii7", "ii9", "V7", "V9", "V13", "V13(b9)", "V7(b9,b13)"),
    *("V7alt", "VI7(b13)", "V7sus4", "V9sus4", "V7sus4(b9)", "iv6", "i6/9", "i(maj9)", "#ivø7", "bIII°7"),
    *("bIImaj7(#11)", "bII13(#11)", "bVII7", "bVImaj7/5", "iiø7/5", "iv6/5", "I", "vi", "V7(#5)"),
]


def planned(numeral: str, key: str = "C", pedal: str | None = None) -> PlannedChord:
    read = Numeral.from_text(numeral)
    chord = chord_of(read, Key.from_text(key))
    return PlannedChord(0, 960, read, chord, Tone.from_text(pedal) if pedal else None)


def classes(chord: Chord, *names: str) -> set[int]:
    return {
        chord.root.up(int(name.lstrip("b#")), name.count("#") - name.count("b")).pitch_class for name in names
    }


@pytest.mark.parametrize("numeral", NUMERALS)
@pytest.mark.parametrize("key", ["C", "Gb", "A"])
def test_every_candidate_is_clean(numeral: str, key: str) -> None:
    one = planned(numeral, key)
    chord = one.chord
    allowed = {tone.pitch_class for tone in (*chord.required, *chord.optional)}
    found = candidates_for(material_of(one), 77)
    assert found.grips
    for grip in found.grips:
        assert list(grip) == sorted(set(grip))
        assert 3 <= len(grip) <= 4
        assert {pitch % 12 for pitch in grip} <= allowed
        assert 48 <= grip[0] <= grip[-1] <= 77
        assert not is_muddy(grip)
        for low, high in combinations(grip, 2):
            own_flat_nine = chord.is_dominant and low % 12 == chord.root.pitch_class
            assert high - low not in (13, 25) or own_flat_nine


@pytest.mark.parametrize("numeral", NUMERALS)
def test_guide_tones_are_in_every_voicing(numeral: str) -> None:
    one = planned(numeral)
    guides = {tone.pitch_class for tone in one.chord.guide_tones} - {one.chord.bass.pitch_class}
    for grip in candidates_for(material_of(one), 77).grips:
        assert guides <= {pitch % 12 for pitch in grip}


def test_the_floor_keeps_every_bass_note_clear_of_the_comp() -> None:
    """TRADE 3, across parts: with the comp at its floor or above, no note of the bass is muddy under it."""
    for bass in range(BASS_LOWEST, BASS_HIGHEST + 1):
        for low in range(comp_floor(), 78):
            assert not is_muddy([bass, low])
    assert any(is_muddy([bass, comp_floor() - 1]) for bass in range(BASS_LOWEST, BASS_HIGHEST + 1))


# Rootless forms: A is 3-5-7-9, B is 7-9-3-5, and on dominants 13 replaces 5 (TRADE 4, [RL] piano.org).
@pytest.mark.parametrize(
    ("numeral", "form"),
    [
        ("ii9", ("b3", "5", "b7", "9")),
        ("ii9", ("b7", "9", "b3", "5")),
        ("V13", ("3", "13", "b7", "9")),
        ("V13", ("b7", "9", "3", "13")),
        ("Imaj9", ("3", "5", "7", "9")),
        ("Imaj9", ("7", "9", "3", "5")),
    ],
)
def test_the_handbooks_rootless_forms_are_among_the_candidates(numeral: str, form: tuple[str, ...]) -> None:
    one = planned(numeral)
    wanted = [one.chord.root.up(int(n.lstrip("b")), -n.count("b")).pitch_class for n in form]
    assert any(
        [pitch % 12 for pitch in grip] == wanted for grip in candidates_for(material_of(one), 77).grips
    )


def cheapest(one: PlannedChord) -> set[int]:
    """Pitch classes of the voicing that is cheapest by itself."""
    found = candidates_for(material_of(one), 77)
    return {pitch % 12 for pitch in found.grips[int(found.price.argmin())]}


@pytest.mark.parametrize("numeral", ["ii9", "Imaj9", "V13"])
def test_the_root_is_left_to_the_bass(numeral: str) -> None:
    """TRADE 4: the root is omitted when a bassist plays ([RL], [Ke02])."""
    assert planned(numeral).chord.root.pitch_class not in cheapest(planned(numeral))


def test_the_root_is_kept_over_a_foreign_bass() -> None:
    """Over a held G or a slash bass the chord could not be told without it: judgement, no source."""
    assert 4 in cheapest(planned("iii7", pedal="G"))
    assert 5 in cheapest(planned("iv6/5"))


@pytest.mark.parametrize("numeral", ["VI7", "VI7(b13)", "V7alt", "V7(b9,b13)", "V13", "bVII7"])
def test_a_flat_thirteenth_drops_the_fifth(numeral: str) -> None:
    """Project's rule of reading: b13 drops the fifth (common practice, no source)."""
    one = planned(numeral, "C minor")
    both = classes(one.chord, "5", "b13")
    for grip in candidates_for(material_of(one), 77).grips:
        assert not both <= {pitch % 12 for pitch in grip}


@pytest.mark.parametrize("numeral", ["i6", "i6/9", "i(maj7)", "i(maj9)"])
def test_a_minor_tonic_has_its_fifth_and_no_eleventh(numeral: str) -> None:
    """Eb A D F over C sounds like F7: the fifth tells the tonic. Common practice, no source."""
    sounding = cheapest(planned(numeral, "C minor"))
    assert 7 in sounding  # G
    assert 5 not in sounding  # F


@pytest.mark.parametrize("key", keys(Mode.MINOR))
def test_a_plain_suspended_five_of_minor_is_not_a_sus_flat_nine(key: Key) -> None:
    """V7sus4 takes 1 4 5 b7 where the scale has no natural 9 or 13: in C minor no Ab and no Eb."""
    read = Numeral.from_text("V7sus4")
    chord = chord_of(read, key, following=Numeral.from_text("V7(b9,b13)"))
    one = PlannedChord(0, 960, read, chord, None)
    for grip in candidates_for(material_of(one), 77).grips:
        assert {(pitch - chord.root.pitch_class) % 12 for pitch in grip} <= {0, 5, 7, 10}


def test_alt_is_more_than_flat_nine_and_flat_thirteen() -> None:
    """B F Ab Eb is G7(b9,b13); G7alt has a #9 or a #11 as well, or instead."""
    assert cheapest(planned("V7alt")) & {10, 1}  # Bb, Db


@pytest.mark.parametrize("key", keys(Mode.MAJOR))
def test_no_semitone_at_the_bottom_of_a_two_five(make: Any, key: Key) -> None:
    """A3 Bb3 D4 E4 for C13 rubs where it is lowest: another inversion will do. Judgement, no source."""
    tune = make.tune(str(key))
    for text in ("ii9 V13 | Imaj9", "ii9 V7 | I6/9", "iii7 VI7 | ii9 V9"):
        for grip in voice_plan(plan_intro(make.intro(make.form(text)), tune, tune.key)):
            assert grip[1] - grip[0] > 1


@pytest.mark.parametrize("key", keys(Mode.MINOR))
def test_a_new_chord_over_a_held_bass_is_another_grip(make: Any, key: Key) -> None:
    """G7sus4(b9), Dm7b5/G and Fm6/G share their notes: told by one grip they would be one chord."""
    tune = make.tune(str(key))
    text = "V7sus4(b9) iiø7/5 | V7sus4(b9) iv6/5 | iiø7/5 iv6/5"
    plan = plan_intro(make.intro(make.form(text, Mode.MINOR), pedal=PedalPoint("5")), tune, tune.key)
    assert all(before != after for before, after in pairwise(voice_plan(plan)))


def test_a_riffs_fifth_keeps_the_flat_thirteenth_out_of_the_comp(make: Any) -> None:
    """A7 before Dm may take F, but not beside the E of a riff."""
    one = planned("VI7")
    assert any(5 in {pitch % 12 for pitch in grip} for grip in candidates_for(material_of(one), 77).grips)
    for grip in candidates_for(material_of(one, beside=[4]), 77).grips:
        assert 5 not in {pitch % 12 for pitch in grip}


def test_altered_means_altered() -> None:
    one = planned("V7alt")
    alterations = classes(one.chord, "b9", "#9", "#11", "b13")
    found = candidates_for(material_of(one), 77)
    assert len({pitch % 12 for pitch in found.grips[0]} & alterations) >= 2


grips = st.lists(
    st.lists(st.integers(53, 77), min_size=4, max_size=4, unique=True).map(sorted), min_size=1, max_size=5
)


class Side:
    def __init__(self, rows: list[list[int]]) -> None:
        pitches = np.array(rows)
        self.voices, self.near = presence(pitches), nearness(pitches)
        self.guides, self.top = presence(pitches[:, :2]), pitches[:, -1].astype(float)


@given(grips, grips)
def test_table_products_equal_the_movement_counted_voice_by_voice(
    before: list[list[int]], after: list[list[int]]
) -> None:
    prices = movement_cost(Side(before), Side(after))
    for row, one in enumerate(before):
        for column, other in enumerate(after):
            there = sum(min(abs(a - b) for b in other) for a in one)
            back = sum(min(abs(a - b) for a in one) for b in other)
            top = abs(one[-1] - other[-1])
            unresolved = sum(max(0, min(abs(a - b) for b in other) - 2) for a in one[:2])
            expected = (
                0.45 * (there + back) + 1.2 * unresolved + 0.6 * max(0, top - 2) + 2.0 * max(0, top - 5)
            )
            assert prices[row, column] == pytest.approx(expected)


@settings(max_examples=25)
@given(st.lists(st.sampled_from(NUMERALS), min_size=2, max_size=3), st.sampled_from(keys(Mode.MAJOR)))
def test_the_path_is_the_cheapest_of_all(numerals: list[str], key: Key) -> None:
    """Dynamic programming against trying every combination of each chord's cheapest five."""
    chords = [candidates_for(material_of(planned(numeral, str(key))), 70) for numeral in numerals]
    moves = [movement_cost(before, after) for before, after in pairwise(chords)]

    def price(path: tuple[int, ...]) -> float:
        own = sum(float(chord.price[index]) for chord, index in zip(chords, path, strict=True))
        return own + sum(float(move[a, b]) for move, (a, b) in zip(moves, pairwise(path), strict=True))

    chosen = price(tuple(best_path(chords)))
    few = [range(min(12, len(chord.grips))) for chord in chords]
    tried = (
        (a, *rest)
        for a in few[0]
        for rest in ([(b,) for b in few[1]] if len(few) == 2 else [(b, c) for b in few[1] for c in few[2]])
    )
    assert chosen <= min(price(path) for path in tried) + 1e-9


def test_guide_tones_move_by_step_through_a_circle_of_fifths(make: Any) -> None:
    """TRADE 4, [Hu]: guide tones move by step through fifth cycles."""
    tune = make.tune()
    plan = plan_intro(make.intro(make.form("iii7 VI7 | ii7 V7 | Imaj7")), tune, tune.key)
    voicings = voice_plan(plan)
    for (chord, before), after in zip(zip(plan.chords, voicings, strict=True), voicings[1:], strict=False):
        guides = {tone.pitch_class for tone in chord.chord.guide_tones}
        for pitch in (pitch for pitch in before if pitch % 12 in guides):
            assert min(abs(pitch - other) for other in after) <= 2


def test_a_line_keeps_the_comp_below_it_and_a_riff_does_not(make: Any) -> None:
    tune = make.tune()
    plan = plan_intro(make.intro(make.form("iii7 VI7 | ii7 V7"), pedal=PedalPoint("5")), tune, tune.key)
    assert max(grip[-1] for grip in voice_plan(plan)) <= 70
