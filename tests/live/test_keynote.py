"""Notes that name the key."""

from __future__ import annotations

import pytest

from introit.live.keynote import KeyNamer, Named
from introit.live.messages import ChannelMessage, note_off, note_on, parse
from introit.live.setup import KeyZone
from introit.units import NS_PER_MS

WINDOW = 250 * NS_PER_MS


@pytest.mark.parametrize(
    ("data", "port", "expected"),
    [
        (note_on(0, 24, 1), 0, True),
        (note_on(0, 47, 1), 0, True),
        (note_on(0, 23, 1), 0, False),
        (note_on(0, 48, 1), 0, False),
        (note_off(0, 30), 0, False),
        (b"\x90\x1e\x00", 0, False),
        (note_on(1, 30, 1), 0, False),
        (note_on(0, 30, 1), 1, False),
    ],
)
def test_only_note_ons_in_the_zone_are_read(data: bytes, port: int, expected: bool) -> None:
    message = parse(data)
    assert isinstance(message, ChannelMessage)
    assert KeyNamer(KeyZone(port=0, channel=0)).matches(port, message) is expected


def test_any_octave_names_the_key() -> None:
    namer = KeyNamer(KeyZone(minor="tune", starts=True))
    # Note 60 is middle C (MIDI 1.0, note numbers), so modulo 12 C is 0, and 34 and 46 are B flats.
    assert namer.read(34, 0) == namer.read(46, 5) == Named(10, None, True)


def test_the_minor_half_is_minor_and_the_other_the_tunes_own() -> None:
    namer = KeyNamer(KeyZone(minor="half", minor_from=36, starts=True))
    assert namer.read(35, 0) == Named(11, None, True)
    assert namer.read(36, 0) == Named(0, True, True)


def test_a_minor_third_within_the_window_makes_it_minor_in_any_octave() -> None:
    # C and E flat above or below it; B and D, across the octave.
    for first, third in ((36, 39), (36, 27), (35, 38), (35, 26)):
        namer = KeyNamer(KeyZone(starts=True))
        assert namer.read(first, 0) == Named(first % 12, None, False)
        assert namer.next_due == WINDOW
        assert not namer.close(WINDOW - 1)
        assert namer.read(third, WINDOW - 1) == Named(first % 12, True, True)
        assert namer.next_due is None
        assert not namer.close(WINDOW)


def test_without_a_third_the_intro_starts_when_the_window_closes() -> None:
    namer = KeyNamer(KeyZone(starts=True))
    namer.read(36, 0)
    assert namer.close(WINDOW)
    assert not namer.close(2 * WINDOW)
    assert namer.read(39, 3 * WINDOW) == Named(3, None, False)  # too late to be a third: a key of its own


def test_another_note_is_a_new_first_note() -> None:
    namer = KeyNamer(KeyZone())
    namer.read(36, 0)
    assert namer.read(40, 100) == Named(4, None, False)  # a major third is no minor third
    assert namer.next_due == 100 + WINDOW
    assert namer.read(43, 200) == Named(4, True, False)


def test_forgetting_ends_the_window() -> None:
    namer = KeyNamer(KeyZone(starts=True))
    namer.read(36, 0)
    namer.reset()
    assert namer.next_due is None
    assert namer.read(39, 100) == Named(3, None, False)
