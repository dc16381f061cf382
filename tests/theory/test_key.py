import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import key as m21_key
from music21 import pitch as m21_pitch

from introit.errors import NotationError
from introit.theory.key import Key, Mode, keys
from introit.theory.pitch import Tone


def words(text: str) -> list[str]:
    return text.split()


PLAYED = [
    *words("C Db D Eb E F F# Gb G Ab A Bb B"),
    *(f"{name} minor" for name in words("C C# D Eb E F F# G G# Ab A Bb B")),
]


@pytest.mark.parametrize("name", PLAYED)
def test_a_key_prints_and_reads_back(name: str) -> None:
    key = Key.from_text(name)
    assert str(key) == name
    assert Key.from_text(str(key)) == key


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Bb major", "Bb"), ("bb", "Bb"), ("b", "B"), ("B♭", "Bb"), ("B flat", "Bb"),
        ("b-flat minor", "Bb minor"),
        ("Bbm", "Bb minor"), ("C# Minor", "C# minor"), ("F sharp", "F#"), ("am", "A minor"),
        ("A-", "A minor"),
        ("Ebmin", "Eb minor"), (" G maj ", "G"),
    ],
)  # fmt: skip
def test_ways_of_writing_a_key(text: str, name: str) -> None:
    assert str(Key.from_text(text)) == name


# Keys that nobody reads from get their usual name (common practice, no source).
@pytest.mark.parametrize(
    ("text", "meant"),
    [("D# minor", "Eb minor"), ("C#", "Db"), ("Cb", "B"), ("Db minor", "C# minor"), ("Gbm", "F# minor"),
     ("A#", "Bb"), ("Cb minor", "B minor"), ("E#", "F")],
)  # fmt: skip
def test_a_key_that_is_not_read_from_names_the_usual_one(text: str, meant: str) -> None:
    with pytest.raises(NotationError, match="there is no key of") as caught:
        Key.from_text(text)
    assert f"Did you mean {meant!r}" in caught.value.reason


@pytest.mark.parametrize(
    ("text", "position"), [("", 0), ("H minor", 0), ("C dorian", 2), ("CM", 1), ("C majr", 2)]
)
def test_a_wrong_key_points_at_the_character(text: str, position: int) -> None:
    with pytest.raises(NotationError) as caught:
        Key.from_text(text)
    assert caught.value.position == position


def test_keys_as_a_midi_note_names_them() -> None:
    # Gb rather than F# in major; C#, F#, G#, Eb and Bb in minor.
    assert [str(key) for key in keys(Mode.MAJOR)] == words("C Db D Eb E F Gb G Ab A Bb B")
    minor = [str(key.tonic) for key in keys(Mode.MINOR)]
    assert minor == words("C C# D Eb E F F# G G# A Bb B")
    assert str(Key.from_pitch_class(66, Mode.MAJOR)) == "Gb"


@pytest.mark.parametrize("name", PLAYED)
def test_signature_and_scale_against_music21(name: str) -> None:
    # Reference: music21's key signatures and scales (natural minor).
    key = Key.from_text(name)
    reference = m21_key.Key(str(key.tonic).replace("b", "-"), key.mode.value)
    assert key.signature == reference.sharps
    theirs = {pitch.name.replace("-", "b") for pitch in reference.pitches}
    minor_degrees = [(1, 0), (2, 0), (3, -1), (4, 0), (5, 0), (6, -1), (7, -1)]
    degrees = minor_degrees if key.is_minor else [(number, 0) for number in range(1, 8)]
    ours = {str(key.degree(*degree)) for degree in degrees}
    assert ours == theirs
    assert all(key.holds(Tone.from_text(tone)) for tone in theirs)


@pytest.mark.parametrize("name", PLAYED)
def test_degrees_count_from_the_major_scale_in_minor_too(name: str) -> None:
    key = Key.from_text(name)
    for number, semitones in enumerate((0, 2, 4, 5, 7, 9, 11), start=1):
        for alter in (-1, 0, 1):
            tone = key.degree(number, alter)
            assert tone.pitch_class == (key.tonic.pitch_class + semitones + alter) % 12


@pytest.mark.parametrize("name", PLAYED)
def test_altered_degrees_take_their_plainest_name(name: str) -> None:
    # Reference for "enharmonic with": music21's own list of enharmonics.
    key = Key.from_text(name)
    for number in range(1, 8):
        for alter in (-1, 1):
            tone = key.degree(number, alter)
            if key.holds(tone):
                continue
            others = m21_pitch.Pitch(str(tone).replace("b", "-")).getAllCommonEnharmonics()
            fewest = min(abs(int(other.alter)) for other in others)
            assert abs(tone.alter) <= fewest


# The first two rows are the rule's own examples; the others common practice, no source.
@pytest.mark.parametrize(
    ("key", "degree", "name"),
    [
        ("Db", "b2", "D"), ("C minor", "b6", "Ab"), ("C minor", "6", "A"), ("C minor", "7", "B"),
        ("Gb", "b3", "A"),
        ("Gb", "b6", "D"), ("B", "#4", "F"), ("F#", "#4", "C"), ("Ab minor", "b6", "Fb"), ("Eb", "#4", "A"),
        ("E", "#4", "A#"), ("A", "#1", "A#"), ("C", "b7", "Bb"), ("Eb", "b2", "E"), ("Bb", "b2", "B"),
    ],
)  # fmt: skip
def test_names_of_degrees(key: str, degree: str, name: str) -> None:
    assert str(Key.from_text(key).degree_from_text(degree)) == name


def test_a_degree_of_a_key_ends_at_seven() -> None:
    with pytest.raises(ValueError, match="1 to 7"):
        Key.from_text("C").degree(8)
    with pytest.raises(NotationError, match="1 to 7"):
        Key.from_text("C").degree_from_text("9")
    with pytest.raises(ValueError, match="no key of"):
        Key(Tone("D", 1), Mode.MINOR)


@given(st.one_of(st.text(max_size=12), st.text(alphabet="ABCDEFGabcdefgm#♯♭ -injor", max_size=12)))
def test_no_text_crashes_the_reader(text: str) -> None:
    try:
        key = Key.from_text(text)
    except NotationError as error:
        place = error.position
    else:
        place = 0
        assert Key.from_text(str(key)) == key
    assert 0 <= place <= len(text)
