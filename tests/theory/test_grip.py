import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.errors import NotationError
from introit.theory.fretboard import Fretboard, Place
from introit.theory.grip import Grip

frets = st.lists(st.integers(-1, 24), min_size=6, max_size=7).map(tuple)


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("x32010", (-1, 3, 2, 0, 1, 0)),
        ("X32010", (-1, 3, 2, 0, 1, 0)),
        ("x-10-9-9-8-x", (-1, 10, 9, 9, 8, -1)),
        (" x 10 9 9 8 x ", (-1, 10, 9, 9, 8, -1)),
        ("x-3-2-0-1-0", (-1, 3, 2, 0, 1, 0)),
        ("xx32010", (-1, -1, 3, 2, 0, 1, 0)),
        ("xxxxxx", (-1,) * 6),
    ],
)
def test_grips_are_read_as_players_write_them(text: str, written: tuple[int, ...]) -> None:
    assert Grip.from_text(text).frets == written


@given(frets)
def test_what_is_printed_reads_back(written: tuple[int, ...]) -> None:
    grip = Grip(written)
    assert Grip.from_text(str(grip)) == grip
    assert ("-" in str(grip)) == (max(written) > 9)


@pytest.mark.parametrize(
    ("text", "position", "says"),
    [
        ("x3201o", 5, "a string is x"),
        ("x32?10", 3, "a string is x"),
        ("x-10-9-9b-8-x", 8, "a string is x"),
        ("x-40-9-9-8-x", 2, "fret 40 is not on a neck"),
        ("x3201", 5, "here are 5"),
        ("", 0, "here are 0"),
        ("x10998xx", 7, "frets of two digits need hyphens"),
        ("x-x-x-x-x-x-x-1", 14, "six or seven"),
        ("x3²010", 2, "a string is x"),
    ],
)
def test_a_mistake_is_pointed_at(text: str, position: int, says: str) -> None:
    with pytest.raises(NotationError, match=says) as caught:
        Grip.from_text(text)
    assert caught.value.position == position


def test_a_string_sounds_one_note_at_a_time() -> None:
    with pytest.raises(ValueError, match="two notes on string 5, at frets 3 and 7"):
        Grip.from_places([Place(5, 3), Place(4, 2), Place(5, 7)])
    with pytest.raises(ValueError, match="two notes on string 1, at frets 0 and 0"):
        Grip.from_places([Place(1, 0), Place(1, 0)])


@given(frets)
def test_places_and_frets_say_the_same(written: tuple[int, ...]) -> None:
    grip = Grip(written)
    assert Grip.from_places(reversed(grip.places), strings=len(written)) == grip
    assert hash(Grip(written)) == hash(grip)


@pytest.mark.parametrize(
    ("text", "strings", "adjacent", "span"),
    [
        ("x32010", (1, 2, 3, 4, 5), True, 3),
        ("xx5768", (1, 2, 3, 4), True, 4),
        ("8x798x", (2, 3, 4, 6), False, 3),
        ("x3x453", (1, 2, 3, 5), False, 3),
        ("000000", (1, 2, 3, 4, 5, 6), True, 0),
        ("xxxxxx", (), True, 0),
        ("xxxxx5", (1,), True, 1),
    ],
)
def test_string_set_and_span(text: str, strings: tuple[int, ...], adjacent: bool, span: int) -> None:
    grip = Grip.from_text(text)
    assert (grip.strings, grip.adjacent, grip.fret_span) == (strings, adjacent, span)


def test_pitches_sound_as_the_neck_is_tuned() -> None:
    grip = Grip.from_text("x32010")  # C E G C E
    assert grip.pitches(Fretboard()) == (48, 52, 55, 60, 64)
    assert grip.pitches(Fretboard(capo=2)) == (50, 54, 57, 62, 66)
    with pytest.raises(ValueError, match="the neck has 7"):
        grip.pitches(Fretboard((35, 40, 45, 50, 55, 59, 64)))
    with pytest.raises(ValueError, match="no fret 21"):
        Grip.from_text("x-x-x-x-x-21").pitches(Fretboard())


@pytest.mark.parametrize(
    ("written", "says"),
    [((0,) * 5, "given are 5"), ((0,) * 8, "given are 8"), ((0, 0, 0, 0, 0, -2), "string 1 has fret -2")],
)
def test_what_is_not_a_grip_is_refused(written: tuple[int, ...], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Grip(written)


@pytest.mark.parametrize(
    ("place", "says"), [(Place(7, 1), "no string 7"), (Place(1, -1), "string 1 has fret -1")]
)
def test_what_is_not_a_place_is_refused(place: Place, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Grip.from_places([place])
