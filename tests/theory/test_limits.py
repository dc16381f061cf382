import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.theory.limits import LOW_INTERVAL_LIMITS, is_muddy, too_low

# The stricter of two printed tables: a retailer's glossary (sweetwater.com, low interval limit; its octave
# numbers moved up by one) and the limits in a general music library (Elm, Music.Internal.Voicing). Names with
# middle C = C4; ninths and tenths are in the second alone.
PRINTED = {
    "m2": (1, "E3", "E3"), "M2": (2, "Eb3", "Eb3"), "m3": (3, "C3", "C3"), "M3": (4, "B2", "Bb2"),
    "P4": (5, "A2", "Bb2"), "d5": (6, "B1", "Bb2"), "P5": (7, "C#2", "Bb1"), "m6": (8, "F2", "G2"),
    "M6": (9, "F2", "F2"), "m7": (10, "F2", "F2"), "M7": (11, "F2", "F2"), "m9": (13, "E2", "E2"),
    "M9": (14, "Eb2", "Eb2"), "m10": (15, "C2", "C2"), "M10": (16, "Bb1", "Bb1"),
}  # fmt: skip
NATURALS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def midi(name: str) -> int:
    return 12 * (int(name[-1]) + 1) + NATURALS[name[0]] + name.count("#") - name.count("b")


@pytest.mark.parametrize("interval", PRINTED)
def test_limits_are_the_stricter_of_the_two_printed_tables(interval: str) -> None:
    semitones, one, other = PRINTED[interval]
    assert LOW_INTERVAL_LIMITS[semitones] == max(midi(one), midi(other))


def test_nothing_else_is_limited() -> None:
    assert set(LOW_INTERVAL_LIMITS) == {semitones for semitones, _, _ in PRINTED.values()}


@pytest.mark.parametrize(
    ("pitches", "muddy"),
    [
        ([], False), ([40], False), ([28, 40], False), ([40, 51], True), ([41, 52], False),
        ([40, 44, 47], True), ([48, 52, 55, 59], False), ([40, 52, 56], False), ([55, 28], False),
        ([52, 51], True), ([36, 51], False),
    ],
)  # fmt: skip
def test_voicings(pitches: list[int], muddy: bool) -> None:
    # A seventh on the guitar's open low E is one half step too low; from F2 up it is clear.
    assert is_muddy(pitches) is muddy


@given(st.lists(st.integers(0, 127), max_size=6))
def test_order_does_not_matter_and_any_two_notes_count(pitches: list[int]) -> None:
    assert is_muddy(pitches) == is_muddy(sorted(pitches, reverse=True))
    pairs = [(one, other) for one in pitches for other in pitches if one < other]
    assert is_muddy(pitches) == any(too_low(one, other) for one, other in pairs)


@given(st.integers(0, 100), st.integers(0, 27))
def test_higher_is_never_muddier(low: int, interval: int) -> None:
    if not too_low(low, low + interval):
        assert not too_low(low + 1, low + 1 + interval)
