"""A rhythm's vocabulary against the published placements of its figure."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from introit.arrange.comping.figure import AIR, CARRIED, MOVED, THINNED, WRITTEN, moved, vocabulary_of

# [CP5] (Modern Drummer, The Charleston): four placements on the beat, four off it; list derived.
# Slots are eighths: 0 is one, 3 the off-beat after two, 8 the next bar's one.
PLACEMENTS = [(0, 3), (1, 4), (2, 5), (3, 6), (4, 7), (5, 8), (6, 9), (7, 10)]


def charleston(make: Any) -> Any:
    """One, and the off-beat after two: [CP1] item 2."""
    return make.rhythm((make.hit("0", "3/2"), make.hit("3/2", "1/2")))


@pytest.mark.parametrize("placement", PLACEMENTS)
def test_the_charleston_has_eight_placements(make: Any, placement: tuple[int, int]) -> None:
    cells = vocabulary_of(charleston(make)).figures[0].cells
    here, there = moved(cells, placement[0], 8)
    assert [cell.slot for cell in here] + [cell.slot + 8 for cell in there] == list(placement)


def test_every_placement_is_in_the_vocabulary(make: Any) -> None:
    figures = vocabulary_of(charleston(make)).figures
    begun = {
        tuple(cell.slot for cell in (*one.cells, *(cell._replace(slot=cell.slot + 8) for cell in one.tail)))
        for one in figures
        if one.kind in (WRITTEN, MOVED)
    }
    assert begun == set(PLACEMENTS)


def test_what_falls_over_the_bar_line_has_a_bar_that_goes_on_with_it(make: Any) -> None:
    figures = vocabulary_of(charleston(make)).figures
    tails = {one.tail for one in figures if one.tail}
    assert len(tails) == 3
    assert {one.after for one in figures if one.kind == CARRIED} == tails
    assert all(one.cells == one.after for one in figures if one.kind == CARRIED)


def test_bars_are_thinned_by_one_hit_and_one_is_empty(make: Any) -> None:
    figures = vocabulary_of(make.rhythm(tuple(make.hit(str(beat), "1") for beat in range(4)))).figures
    thinned = [[cell.slot for cell in one.cells] for one in figures if one.kind == THINNED]
    assert sorted(thinned) == [[0, 2, 4], [0, 2, 6], [0, 4, 6], [2, 4, 6]]
    assert [one.cells for one in figures if one.kind == AIR] == [()]


def test_a_full_bar_is_no_figure_to_be_moved(make: Any) -> None:
    figures = vocabulary_of(make.rhythm(tuple(make.hit(str(beat), "1") for beat in range(4)))).figures
    assert not [one for one in figures if one.kind == MOVED]


def test_a_steady_rhythm_offers_what_is_written_and_nothing_else(make: Any) -> None:
    rhythm = replace(charleston(make), steady=True)
    assert [one.kind for one in vocabulary_of(rhythm).figures] == [WRITTEN]
