"""Written values: they add up, each is one that there is, and the beats can be seen.

The examples are common practice of copyists, no source.
"""

from __future__ import annotations

from fractions import Fraction

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.export.sheet.model import Value
from introit.export.sheet.rhythm import SIXTEENTH, in_thirds, notes, on_grid, rests
from introit.theory.meter import Meter
from introit.units import TICKS_PER_QUARTER as BEAT

METERS = st.sampled_from([Meter(3), Meter(4), Meter(5)])
NAMES = {"16th": "16", "eighth": "8", "quarter": "4", "half": "2", "whole": "1"}


def written(values: list[Value]) -> str:
    return " ".join(NAMES[value.kind] + "." * value.dots + "t" * value.triplet for value in values)


@given(METERS, st.data())
def test_notes_and_rests_fill_their_time(meter: Meter, data: st.DataObject) -> None:
    last = meter.beats * BEAT // SIXTEENTH
    start = data.draw(st.integers(0, last - 1))
    end = data.draw(st.integers(start + 1, last))
    for write in (notes, rests):
        found = list(write(start * SIXTEENTH, end * SIXTEENTH, meter, frozenset()))
        assert sum(value.ticks for value in found) == (end - start) * SIXTEENTH
        assert all(quarters(value) == Fraction(value.ticks, BEAT) for value in found)
    assert not any(value.dots for value in rests(start * SIXTEENTH, end * SIXTEENTH, meter, frozenset()))


@given(METERS, st.data())
def test_a_beat_in_thirds_stands_by_itself(meter: Meter, data: st.DataObject) -> None:
    beat = data.draw(st.integers(0, meter.beats - 1))
    places = [beat * BEAT + third * BEAT // 3 for third in (1, 2)]
    others = [
        place
        for place in range(0, meter.beats * BEAT + 1, BEAT // 2)
        if place not in (beat * BEAT + BEAT // 2,)
    ]
    start, end = sorted(
        data.draw(st.lists(st.sampled_from([*places, *others]), min_size=2, max_size=2, unique=True))
    )
    for write in (notes, rests):
        found = list(write(start, end, meter, frozenset({beat})))
        assert sum(value.ticks for value in found) == end - start
        assert all(quarters(value) == Fraction(value.ticks, BEAT) for value in found)


def quarters(value: Value) -> Fraction:
    """How long music21 takes such a value to be."""
    duration = music21.duration.Duration(type=value.kind, dots=value.dots)
    if value.triplet:
        duration.appendTuplet(music21.duration.Tuplet(3, 2, "eighth"))
    return Fraction(duration.quarterLength).limit_denominator(96)


@pytest.mark.parametrize(
    ("beats", "start", "end", "expected"),
    [
        (4, 0, 4, "1"), (4, 0, 3, "2."), (4, 0, 2.5, "2 8"), (4, 1, 3, "2"), (4, 1, 4, "2."),
        (4, 1.5, 2.5, "8 8"), (4, 0.5, 1.5, "4"), (4, 0.5, 2, "4."), (4, 0, 1.5, "4."), (4, 3.5, 4, "8"),
        (4, 1.5, 4, "8 2"), (4, 0.5, 4, "4. 2"), (4, 1, 2.5, "4 8"), (4, 2, 3.5, "4."),
        (3, 0, 3, "2."), (3, 1, 3, "2"), (3, 0, 2, "2"), (3, 0.5, 1.5, "4"), (3, 1.5, 3, "8 4"),
        (5, 0, 5, "2. 2"), (5, 0, 3, "2."), (5, 3, 5, "2"), (5, 2, 4, "4 4"),
    ],
)  # fmt: skip
def test_a_note_is_written_as_it_is_read(beats: int, start: float, end: float, expected: str) -> None:
    found = list(notes(round(start * BEAT), round(end * BEAT), Meter(beats), frozenset()))
    assert written(found) == expected


@pytest.mark.parametrize(
    ("beats", "start", "end", "expected"),
    [
        (4, 0, 2, "2"), (4, 0, 3, "2 4"), (4, 1, 3, "4 4"), (4, 1, 4, "4 2"), (4, 0.5, 2, "8 4"),
        (4, 1.5, 4, "8 2"), (4, 2.5, 4, "8 4"), (3, 0, 2, "4 4"), (3, 1, 3, "4 4"), (5, 1, 5, "4 4 2"),
    ],
)  # fmt: skip
def test_a_rest_is_counted_as_it_stands(beats: int, start: float, end: float, expected: str) -> None:
    found = list(rests(round(start * BEAT), round(end * BEAT), Meter(beats), frozenset()))
    assert written(found) == expected


def test_thirds_of_a_beat() -> None:
    triplets = frozenset({1})
    found = list(notes(BEAT + BEAT // 3, 3 * BEAT, Meter(4), triplets))
    assert written(found) == "4t 4"
    assert written(list(notes(0, 2 * BEAT, Meter(4), triplets))) == "4 4"
    assert written(list(rests(BEAT, BEAT + 2 * BEAT // 3, Meter(4), triplets))) == "4t"


def test_the_grid() -> None:
    assert [tick for tick in range(0, BEAT, 40) if in_thirds(tick)] == [320, 360, 600, 640]
    assert on_grid(322, thirds=True) == 320
    assert on_grid(470, thirds=False) == 480
