"""Families of voicings against the trade's own words: what lies over what, and on which strings.

Sources: [DV1] heyjazzguy.com, [DV2] zelva.dev drop3-voicing-guide and
mckiel.us, [DV3] timfischermusic.com, [RL] piano.org, [SH1], [SH2], [Hu] musictheory.pugetsound.edu.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.voicing.choice import candidates_for
from introit.arrange.voicing.forms import Form, Layout, forms_of
from introit.arrange.voicing.shapes import family_of, fourths, is_clean, stacks, stacks_over
from introit.arrange.voicing.strings import ROOTED_SHELLS, string_sets

GUITAR, ALONE, KEYS = (
    Layout(6, bass_in_grip=False),
    Layout(6, bass_in_grip=True),
    Layout(0, bass_in_grip=False),
)
SYMBOLS = [
    "Cmaj7",
    "Cmaj9",
    "Dm9",
    "G13",
    "G7alt",
    "G7(b9)",
    "Am7",
    "Bm7b5",
    "C6/9",
    "D7sus4",
    "F#°7",
    "Cm6/9",
]


def forms(voice: Any, symbol: str, layout: Layout) -> tuple[Form, ...]:
    return forms_of(voice.material(symbol).relative, layout)


def of(found: tuple[Form, ...], family: str) -> list[Form]:
    return [form for form in found if form.family == family]


def test_drop_two_of_a_major_seventh_is_the_sources_own() -> None:
    """[DV1], [DV2]: C E G B becomes G C E B: the second voice from the top goes down an octave."""
    assert (7, 12, 16, 23) in set(stacks((0, 4, 7, 11)))


def test_drop_three_of_a_major_seventh_is_the_sources_own() -> None:
    """[DV2]: C E G B becomes E C G B: the third voice from the top goes down an octave."""
    assert (4, 12, 19, 23) in set(stacks((0, 4, 7, 11)))


def test_both_are_told_by_their_names(voice: Any) -> None:
    chord = voice.material("Cmaj7").relative
    assert family_of((0, 4, 7, 11), chord) == "close"
    assert family_of((7, 12, 16, 23), chord) == "drop 2"
    assert family_of((4, 12, 19, 23), chord) == "drop 3"


def test_drop_voicings_lie_on_the_sources_string_sets() -> None:
    """[DV3], [DV2]: drop 2 on 1234, 2345, 3456; drop 3 on 1235, 2346."""
    assert {tuple(sorted(strings)) for strings in string_sets("drop 2", 4, 6)} == {
        (1, 2, 3, 4),
        (2, 3, 4, 5),
        (3, 4, 5, 6),
    }
    assert {tuple(sorted(strings)) for strings in string_sets("drop 3", 4, 6)} == {(1, 2, 3, 5), (2, 3, 4, 6)}


def test_a_seventh_string_has_one_set_more_of_each() -> None:
    """The same shapes one string lower: common practice, no source."""
    assert (7, 6, 5, 4) in string_sets("drop 2", 4, 7)
    assert (7, 5, 4, 3) in string_sets("drop 3", 4, 7)


def test_shells_stand_on_string_six_or_five_with_third_and_seventh_in_the_middle(voice: Any) -> None:
    """[SH1]: root on string 6 or 5, 3rd and 7th on the two middle strings, which are 4 and 3."""
    assert ROOTED_SHELLS == {"1-7-3": ((6, 4, 3),), "1-3-7": ((5, 4, 3),)}
    shells = [form for form in of(forms(voice, "Cmaj7", ALONE), "shell") if len(form.stack) == 3]
    by_order = {tuple(tone % 12 for tone in form.stack): form.strings for form in shells if form.plain}
    assert by_order == {(0, 11, 4): ((6, 4, 3),), (0, 4, 11): ((5, 4, 3),)}


@pytest.mark.parametrize(("symbol", "shell"), [("C6", {0, 4, 9}), ("C7sus4", {0, 5, 10})])
def test_six_stands_for_seven_and_four_for_three(voice: Any, symbol: str, shell: set[int]) -> None:
    """[Hu] 31.7.2; [SH2] gives root-3-6 beside root-3-7."""
    plain = [form for form in forms(voice, symbol, ALONE) if form.plain]
    assert plain
    assert {frozenset(tone % 12 for tone in form.stack) for form in plain} == {frozenset(shell)}


A_FORMS = {"Dm9": ["b3", "5", "b7", "9"], "Cmaj9": ["3", "5", "7", "9"], "G13": ["3", "13", "b7", "9"]}
"""[RL]: A is 3-5-7-9, and on dominants 13 replaces 5."""
B_FORMS = {"Dm9": ["b7", "9", "b3", "5"], "Cmaj9": ["7", "9", "3", "5"], "G13": ["b7", "9", "3", "13"]}
"""[RL]: B is 7-9-3-5."""


@pytest.mark.parametrize("form", [A_FORMS, B_FORMS])
@pytest.mark.parametrize("symbol", ["Dm9", "Cmaj9", "G13"])
def test_keys_have_the_rootless_forms_close(voice: Any, symbol: str, form: dict[str, list[str]]) -> None:
    chord = voice.from_symbol(symbol).chord
    rootless = of(forms(voice, symbol, KEYS), "rootless")
    written = [voice.names(chord, [tone + chord.root.pitch_class for tone in one.stack]) for one in rootless]
    assert form[symbol] in written


@pytest.mark.parametrize("form", [A_FORMS, B_FORMS])
@pytest.mark.parametrize("symbol", ["Dm9", "Cmaj9", "G13"])
def test_a_guitar_has_them_as_drop_two(voice: Any, symbol: str, form: dict[str, list[str]]) -> None:
    """The second from the top an octave down ([DV1]): 3-5-7-9 becomes 7-3-5-9."""
    one, two, three, four = form[symbol]
    chord = voice.from_symbol(symbol).chord
    rootless = of(forms(voice, symbol, GUITAR), "rootless")
    written = [voice.names(chord, [tone + chord.root.pitch_class for tone in one.stack]) for one in rootless]
    assert [three, one, two, four] in written
    assert all(
        len(strings) == 4 and strings[0] - strings[3] == 3 for one in rootless for strings in one.strings
    )


@pytest.mark.parametrize("symbol", SYMBOLS)
def test_close_form_belongs_to_keys(voice: Any, symbol: str) -> None:
    for layout in (GUITAR, ALONE):
        assert not of(forms(voice, symbol, layout), "close")
        assert all(
            form.stack[-1] - form.stack[0] >= 12
            for form in forms(voice, symbol, layout)
            if len(form.stack) == 4
        )
    assert any(
        form.stack[-1] - form.stack[0] < 12 for form in forms(voice, symbol, KEYS) if len(form.stack) == 4
    )


@pytest.mark.parametrize("symbol", ["Dm7", "Am9", "C6/9", "Cmaj7", "G13"])
def test_quartal_stacks_are_fourths_with_a_guide_tone_and_no_avoid_note(voice: Any, symbol: str) -> None:
    """Stacks of fourths: common practice, no source; avoid notes as theory has them ([AN], [Te])."""
    chord, material = voice.from_symbol(symbol).chord, voice.material(symbol)
    found = of(forms(voice, symbol, GUITAR), "quartal")
    assert found
    avoid = {tone.pitch_class for tone in chord.avoid}
    for form in found:
        gaps = [high - low for low, high in pairwise(form.stack)]
        sounding = {(tone + material.root) % 12 for tone in form.stack}
        assert set(gaps) <= {5, 6}
        assert gaps.count(6) <= 1
        assert sounding & set(material.guides)
        assert not sounding & avoid


def test_fourths_come_from_the_tones_alone() -> None:
    assert set(fourths(frozenset({0, 5, 10, 3}), 3)) == {(0, 5, 10), (5, 10, 15)}
    assert (3, 9, 14) in set(fourths(frozenset({3, 9, 2}), 3))


@pytest.mark.parametrize("symbol", ["Bm7b5", "F#°7", "G7alt", "C"])
def test_chords_that_fourths_do_not_tell_have_none(voice: Any, symbol: str) -> None:
    assert not of(forms(voice, symbol, GUITAR), "quartal")


def test_spread_lays_a_tenth_over_a_low_bass(voice: Any) -> None:
    """1-5-10: the open triad; common practice, no source."""
    spread = of(forms(voice, "C", ALONE), "spread")
    assert (0, 7, 16) in {form.stack for form in spread}
    assert all(form.stack[-1] - form.stack[0] > 11 for form in spread)


@pytest.mark.parametrize(
    ("symbol", "triad"), [("G13(b9)", {4, 8, 11}), ("G7alt", {1, 5, 8}), ("Fmaj7(#11)", {7, 11, 2})]
)
def test_an_upper_structure_is_a_triad_of_tensions_over_guide_tones(
    voice: Any, symbol: str, triad: set[int]
) -> None:
    """E over F (G13(b9)), Db over B and F (G7alt), G over F (Fmaj7(#11)): common practice, no source."""
    material = voice.material(symbol)
    found = [
        form
        for layout in (
            Layout(6, bass_in_grip=False, most_voices=6),
            Layout(0, bass_in_grip=False, most_voices=6),
        )
        for form in of(forms(voice, symbol, layout), "upper structure")
    ]
    tops = [{(tone + material.root) % 12 for tone in form.stack[-3:]} for form in found]
    assert triad in tops
    for form in found:
        assert {(tone + material.root) % 12 for tone in form.stack[:-3]} <= set(material.guides)
        assert len({(tone + material.root) % 12 for tone in form.stack[-3:]} & material.tensions) >= 2


@pytest.mark.parametrize("symbol", ["C7(#9)", "G7alt", "E7(#9)"])
def test_a_sharp_nine_lies_a_major_seventh_over_the_third(voice: Any, symbol: str) -> None:
    """Eb4 E4 in C7(#9) is a wrong third, not a tension: judgement, no source."""
    for layout in (GUITAR, ALONE, KEYS):
        for form in forms(voice, symbol, layout):
            for low in form.stack:
                assert not {low + 1, low + 13} & set(form.stack) or low % 12 != 3
    with_both = [
        form for form in forms(voice, "C7(#9)", GUITAR) if {3, 4} <= {tone % 12 for tone in form.stack}
    ]
    assert with_both


def test_cleanliness_knows_the_dominants_own_flat_nine(voice: Any) -> None:
    """No minor ninth over a chord tone ([TP1]), but b9 on dominants (memory)."""
    dominant, major = voice.material("C7(b9)").relative, voice.material("Cmaj7").relative
    assert is_clean((0, 4, 10, 13), dominant)
    assert not is_clean((4, 10, 17), dominant)
    assert not is_clean((11, 24), major)


@pytest.mark.parametrize("symbol", ["Dm7b5", "G7(b9,b13)", "Am7", "C6/9"])
def test_stacks_over_a_bass_have_it_lowest(voice: Any, symbol: str) -> None:
    material = voice.material(symbol).relative
    found = list(stacks_over(0, material.guides))
    assert found
    assert all(stack[0] == 0 and list(stack) == sorted(set(stack)) for stack in found)
    assert all(form.stack[0] == 0 for form in forms_of(material, ALONE))


@pytest.mark.parametrize("symbol", SYMBOLS)
@pytest.mark.parametrize("alone", [False, True])
def test_every_grip_lies_on_a_string_set_of_its_family(voice: Any, symbol: str, alone: bool) -> None:
    material = voice.material(symbol)
    wish = voice.alone if alone else voice.with_bass
    found = candidates_for(material, wish, voice.fingers).voicings
    assert found
    for one in found:
        strings = tuple(place.string for place in one.places)
        sets = {*string_sets(one.family, len(strings), 6, bass_in_grip=alone), (6, 4, 3), (5, 4, 3)}
        assert strings in sets
        if one.family in {"drop 2", "rootless"}:
            assert strings in {(4, 3, 2, 1), (5, 4, 3, 2), (6, 5, 4, 3)}
        if one.family == "drop 3":
            assert strings in {(5, 3, 2, 1), (6, 4, 3, 2)}


@pytest.mark.parametrize("symbol", SYMBOLS)
def test_plain_is_root_third_and_seventh_and_nothing_else(voice: Any, symbol: str) -> None:
    """And what tells the chord: a half-diminished one's flat five."""
    material = voice.material(symbol)
    own = {*material.guides, *({material.telling} - {None})}
    for layout in (GUITAR, ALONE, KEYS):
        for form in forms(voice, symbol, layout):
            sounding = {(tone + material.root) % 12 for tone in form.stack}
            if form.plain:
                assert own <= sounding <= {*own, material.root}
                assert form.tensions == 0
