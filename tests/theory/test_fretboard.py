from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.theory.fretboard import STANDARD_TUNING, Fretboard, Place

# Radicioni and Lombardo 2005, Guitar fingering for music performance, figure 1: the neck in MIDI numbers.
NAMED = {"E2": 40, "A2": 45, "D3": 50, "G3": 55, "B3": 59, "E4": 64}
SEVEN = (35, *STANDARD_TUNING)


def test_standard_tuning_is_the_published_one() -> None:
    assert tuple(NAMED.values()) == STANDARD_TUNING
    neck = Fretboard()
    assert [neck.pitch(string, 0) for string in range(6, 0, -1)] == list(STANDARD_TUNING)


def test_a_pitch_lies_at_up_to_four_places_of_the_neck_in_the_source() -> None:
    neck = Fretboard(highest_fret=15)  # same source, same figure: 64 at 1/0, 2/5, 3/9, 4/14
    assert neck.places(64) == (Place(1, 0), Place(2, 5), Place(3, 9), Place(4, 14))
    assert max(len(neck.places(pitch)) for pitch in range(128)) == 4
    assert neck.places(39) == ()
    assert neck.places(80) == ()


necks = st.builds(
    lambda tuning, capo, frets: Fretboard(tuning, capo=capo, highest_fret=capo + frets),
    st.sampled_from([STANDARD_TUNING, SEVEN, (38, 45, 50, 55, 59, 64), (36, 43, 48, 55, 60, 64)]),
    st.integers(0, 7),
    st.integers(1, 24),
)


@given(necks, st.integers(0, 127))
def test_places_are_all_the_places_that_sound_a_pitch(neck: Fretboard, pitch: int) -> None:
    everywhere = {
        Place(string, fret)
        for string in range(1, neck.strings + 1)
        for fret in range(neck.frets + 1)
        if neck.pitch(string, fret) == pitch
    }
    assert set(neck.places(pitch)) == everywhere
    assert [place.string for place in neck.places(pitch)] == sorted(place.string for place in everywhere)
    for string in range(1, neck.strings + 1):
        fret = neck.fret(pitch, string)
        assert neck.fret_table[neck.strings - string][pitch] == (-1 if fret is None else fret)
        assert (fret is not None) == (string in {place.string for place in everywhere})


def test_a_capo_raises_every_string_and_takes_its_frets() -> None:
    neck = Fretboard(capo=3, highest_fret=20)
    assert neck.open_pitches == (43, 48, 53, 58, 62, 67)
    assert neck.frets == 17
    assert neck.pitch(1, 17) == Fretboard().pitch(1, 20)
    assert neck.fret_mm == Fretboard().fret_mm[3:]


def test_the_twelfth_fret_halves_the_string_and_the_seventh_takes_about_a_third() -> None:
    mm = Fretboard(scale_mm=648).fret_mm  # equal temperament: an octave halves the string, a fifth takes 1/3
    assert mm[0] == 0
    assert mm[12] == pytest.approx(324)
    assert mm[7] == pytest.approx(648 / 3, rel=0.004)
    assert all(near - nearer > far - near for nearer, near, far in zip(mm, mm[1:], mm[2:], strict=False))


@pytest.mark.parametrize(
    ("tuning", "says"),
    [
        ((40, 45, 50, 55, 59), "six or seven strings, given are 5"),
        ((30, 35, 40, 45, 50, 55, 59, 64), "six or seven strings, given are 8"),
        ((64, 59, 55, 50, 45, 40), r"string 6 \(MIDI 64\) must be lower than string 5 \(MIDI 59\)"),
        ((40, 45, 50, 50, 59, 64), r"string 4 \(MIDI 50\) must be lower than string 3 \(MIDI 50\)"),
        ((4, 9, 14, 19, 23, 28), "string 6 is tuned to MIDI 4; allowed is 21"),
        ((40, 45, 50, 55, 59, 76), "string 1 is tuned to MIDI 76; allowed is 21"),
    ],
)
def test_a_neck_that_cannot_be_strung_is_refused(tuning: tuple[int, ...], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Fretboard(tuning)


@pytest.mark.parametrize(
    ("given_", "says"),
    [
        ({"capo": -1}, "capo is at fret -1; allowed is 0"),
        ({"capo": 20}, "capo is at fret 20; allowed is 0 .none. to 19"),
        ({"highest_fret": 0}, "highest fret is 0; allowed is 1 to 36"),
        ({"highest_fret": 37}, "highest fret is 37"),
        ({"scale_mm": 64.8}, "scale length is 64.8; allowed is 400 to 800 mm"),
        ({"scale_mm": float("nan")}, "scale length is nan"),
    ],
)
def test_impossible_frets_and_lengths_are_refused(given_: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Fretboard(**given_)


@pytest.mark.parametrize(
    ("string", "fret", "says"),
    [(0, 0, "no string 0"), (7, 0, "1 .* to 6"), (1, 21, "no fret 21"), (1, -1, "-1")],
)
def test_a_place_off_the_neck_is_refused(string: int, fret: int, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Fretboard().pitch(string, fret)
