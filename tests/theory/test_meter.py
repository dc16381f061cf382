import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.errors import NotationError
from introit.theory.meter import METERS, Meter


@pytest.mark.parametrize(
    ("text", "beats", "ticks"), [("3/4", 3, 2880), (" 4 / 4 ", 4, 3840), ("5/4", 5, 4800)]
)
def test_a_meter_is_read(text: str, beats: int, ticks: int) -> None:
    meter = Meter.from_text(text)
    assert (meter.beats, meter.ticks_per_bar) == (beats, ticks)
    assert Meter.from_text(str(meter)) == meter


@pytest.mark.parametrize("text", ["6/8", "4", "", "4/8", "44", "-1/4", "４/4"])
def test_another_meter_is_refused_with_what_there_is(text: str) -> None:
    with pytest.raises(NotationError, match="3/4, 4/4, 5/4"):
        Meter.from_text(text)


def test_meters_have_beats_that_exist() -> None:
    with pytest.raises(ValueError, match="3, 4 or 5"):
        Meter(7)


@given(st.text(max_size=8))
def test_no_text_crashes_the_reader(text: str) -> None:
    with contextlib.suppress(NotationError):
        assert str(Meter.from_text(text)) in METERS
