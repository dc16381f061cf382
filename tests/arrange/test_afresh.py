"""A playing is thrown again while its comp is the one before: so often, and the same way for a seed."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.afresh import TRIES, Comp, comp_of, written_afresh
from introit.arrange.arranger import arrange
from introit.arrange.plan import plan_intro
from introit.arrange.score import Score
from introit.library.model import Library

Write = Callable[[int], Score]


@pytest.fixture
def thrown() -> list[int]:
    """The seeds that a score was written for."""
    return []


@pytest.fixture
def write(make: Any, shipped: Library, thrown: list[int]) -> Write:
    """One dominant, struck once: few ways to play it, and most seeds fall alike."""
    intro = make.intro(make.form("H"), melody=shipped.intros["one-bar"].melody, comping="held")
    tune = make.tune(feel="ballad", tempo=60)

    def write(seed: int) -> Score:
        thrown.append(seed)
        return arrange(plan_intro(intro, tune, tune.key), shipped, seed=seed)

    return write


def test_a_first_playing_is_that_of_its_seed(write: Write, thrown: list[int]) -> None:
    assert comp_of(written_afresh(write, 5, before=None)) == comp_of(write(5))
    assert thrown == [5, 5]


def test_one_that_falls_as_the_one_before_is_thrown_again_and_the_same_way_each_time(write: Write) -> None:
    def evening(seed: int) -> list[Comp]:
        found: list[Comp] = []
        for number in range(seed, seed + 8):
            found.append(comp_of(written_afresh(write, number, before=found[-1] if found else None)))
        return found

    by_seed = [comp_of(write(seed)) for seed in range(8)]
    alike = sum(one == other for one, other in pairwise(by_seed))
    assert alike > 0, "the case must be one that falls alike"
    played = evening(0)
    assert all(one != other for one, other in pairwise(played))
    assert played == evening(0)


def test_where_all_falls_alike_it_is_content_after_so_many_tries(write: Write, thrown: list[int]) -> None:
    only = write(3)
    thrown.clear()

    def always(seed: int) -> Score:
        thrown.append(seed)
        return only

    assert written_afresh(always, 7, before=comp_of(only)) is only
    assert len(thrown) == len(set(thrown)) == TRIES + 1
