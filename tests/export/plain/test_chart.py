"""A chart written out: read back, it is the chorus that is played."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import pytest

from introit.arrange.chorus import choruses_of
from introit.arrange.form import ArrangeError
from introit.export.plain.chart import chart_document, chart_lines
from introit.export.plain.signs import DRAWN, TYPED
from introit.library.content import program_root
from introit.library.loader import load_library
from introit.library.model import Tune
from introit.theory.chord import chord_of
from introit.theory.key import Key
from introit.theory.numeral import Numeral


@cache
def tunes() -> dict[str, Tune]:
    return load_library([program_root()])[0].tunes


def symbols(tune: Tune, key: Key) -> list[list[str]]:
    """The chords of each bar of a chorus."""
    return [
        [chord_of(slot.chord, key).symbol for slot in bar.slots if isinstance(slot.chord, Numeral)]
        for bar in choruses_of(tune, key).bars
    ]


@pytest.mark.parametrize(("name", "key"), [("late-bus-to-orrin", "Ab"), ("marmalade-weather", "F# minor")])
def test_the_lines_hold_the_bars_in_their_order(name: str, key: str) -> None:
    tune, called = tunes()[name], Key.from_text(key)
    lines = chart_lines(tune, called, signs=DRAWN)
    found = [re.fullmatch(r" *(\d+)  (\w| ) {2}(.+)", line) for line in lines]
    rows = [(int(row[1]), row[2].strip(), row[3].split(" | ")) for row in found if row]
    bars = [bar.split() for _, _, written in rows for bar in written]
    assert bars == symbols(tune, called)
    assert [number for number, _, _ in rows] == list(range(1, len(bars) + 1, 4))
    assert tune.chart is not None
    named = [section for _, section, _ in rows if section]
    assert named == list(tune.chart.order)
    assert lines[0] == f"{tune.title} in {called}, 4/4: {len(bars)} bars a chorus, {' '.join(named)}"


def test_how_the_last_chorus_ends_is_said() -> None:
    lines = chart_lines(tunes()["marmalade-weather"], Key.from_text("D minor"), signs=DRAWN)
    assert lines[-1] == ("last chorus: bars 1 to 24, then the coda: Dm6/9 | Bbmaj7 A7(b9) | Dm6/9, and stop")
    lines = chart_lines(tunes()["two-left-umbrellas"], Key.from_text("Bb"), signs=DRAWN)
    assert lines[-1] == "last chorus: bars 1 to 31, then Bb6, and stop"


def test_a_typewriter_has_its_own_signs() -> None:
    lines = chart_lines(tunes()["two-left-umbrellas"], Key.from_text("Bb"), signs=TYPED)
    assert all(line.isascii() for line in lines)
    assert any("Bo7" in line for line in lines)


def test_programs_get_the_same() -> None:
    tune, key = tunes()["quarter-past-wednesday"], Key.from_text("G minor")
    told = chart_document(tune, key)
    assert [[symbol for symbol, _ in bar] for bar in told["chorus"]] == symbols(tune, key)
    assert (told["leaves_after"], told["lands_on"], told["order"]) == (14, "Gm6/9", list("AABA"))


def test_without_a_chart_nothing_is_drawn() -> None:
    with pytest.raises(ArrangeError, match="has no chart"):
        chart_lines(replace(tunes()["late-bus-to-orrin"], chart=None), Key.from_text("C"), signs=DRAWN)
