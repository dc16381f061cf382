import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.errors import NotationError
from introit.theory.pitch import LETTERS, MAJOR_SCALE, NATURALS, Tone, degree_name, read_degree

tones = st.builds(Tone, st.sampled_from(LETTERS), st.integers(-2, 2))


@pytest.mark.parametrize(
    ("text", "name", "pitch_class"),
    [("C", "C", 0), ("Bb", "Bb", 10), ("B♭", "Bb", 10), ("f##", "F##", 7), ("Cb", "Cb", 11), ("B#", "B#", 0)],
)
def test_a_note_name_is_read(text: str, name: str, pitch_class: int) -> None:
    tone = Tone.from_text(text)
    assert (str(tone), tone.pitch_class) == (name, pitch_class)


@pytest.mark.parametrize(
    ("text", "position"), [("", 0), ("H", 0), ("Cx", 1), ("Cb#", 2), ("C####", 4), ("C4", 1)]
)
def test_a_wrong_note_name_points_at_the_character(text: str, position: int) -> None:
    with pytest.raises(NotationError) as caught:
        Tone.from_text(text)
    assert caught.value.position == position


# Intervals from any book of rudiments (no source): name of the degree above a tone.
@pytest.mark.parametrize(
    ("tone", "degree", "name"),
    [
        ("C", "b9", "Db"), ("C", "b3", "Eb"), ("C", "#11", "F#"), ("Eb", "5", "Bb"), ("F#", "3", "A#"),
        ("B", "3", "D#"), ("Db", "b7", "Cb"), ("D", "7", "C#"), ("Eb", "bb7", "Dbb"), ("A", "13", "F#"),
        ("Cb", "bb7", "Bbbb"), ("G#", "3", "B#"), ("D#", "3", "F##"),
    ],
)  # fmt: skip
def test_a_degree_above_a_tone(tone: str, degree: str, name: str) -> None:
    assert str(Tone.from_text(tone).up(*read_degree(degree))) == name


@given(tones)
def test_a_tone_prints_and_reads_back(tone: Tone) -> None:
    assert Tone.from_text(str(tone)) == tone


@given(tones, st.integers(1, 13), st.integers(-2, 2))
def test_a_degree_keeps_letter_and_sound(tone: Tone, degree: int, alter: int) -> None:
    above = tone.up(degree, alter)
    assert (LETTERS.index(above.letter) - LETTERS.index(tone.letter)) % 7 == (degree - 1) % 7
    assert (above.pitch_class - tone.pitch_class) % 12 == (MAJOR_SCALE[(degree - 1) % 7] + alter) % 12


@given(tones)
def test_names_are_all_of_one_sound(tone: Tone) -> None:
    names = tone.names()
    assert tone in names
    assert {name.pitch_class for name in names} == {tone.pitch_class}
    assert len(set(names)) == len(names) >= 2


@given(st.text(max_size=6))
def test_no_text_crashes_a_reader(text: str) -> None:
    for read in (Tone.from_text, read_degree):
        place = 0
        try:
            read(text)
        except NotationError as error:
            place = error.position
        assert 0 <= place <= len(text)


@given(st.integers(1, 13), st.integers(-2, 2))
def test_a_degree_prints_and_reads_back(degree: int, alter: int) -> None:
    assert read_degree(degree_name(degree, alter)) == (degree, alter)


def test_no_such_letter() -> None:
    with pytest.raises(ValueError, match="no such tone"):
        Tone("H", 0)
    assert len(NATURALS) == 7
