"""Figures and bars, against numpy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.cli.histogram import EDGES_MS, Figures, counts, drawn, percentile

VALUES = st.lists(st.floats(-0.02, 30.0), min_size=1, max_size=300)


@given(VALUES, st.sampled_from([0.01, 0.25, 0.5, 0.75, 0.99, 1.0]))
def test_percentiles_are_the_nearest_rank(values: list[float], share: float) -> None:
    # "inverted_cdf" is Hyndman and Fan's definition 1, as numpy has it.
    assert percentile(sorted(values), share) == np.percentile(values, share * 100, method="inverted_cdf")


@given(VALUES)
def test_every_value_is_in_one_bar(values: list[float]) -> None:
    # Our bars hold their upper edge; numpy's the lower one: so both are turned round.
    edges = [-np.inf, *(-edge for edge in reversed(EDGES_MS)), np.inf]
    expected = np.histogram([-value for value in values], bins=edges)[0][::-1]
    assert counts(values) == list(expected)


@given(VALUES)
def test_the_drawing_fits_a_terminal_and_hides_nothing(values: list[float]) -> None:
    lines = drawn(values)
    assert max(map(len, lines)) < 80
    told = [int(line.split()[-1]) for line in lines]
    assert sum(told) == len(values)
    for line, count in zip(lines, told, strict=True):
        assert ("#" in line) == (count > 0)


def test_the_fullest_bar_is_the_longest_and_half_of_it_is_half_as_long() -> None:
    first, second, third, *rest = drawn([0.01] * 80 + [0.07] * 40 + [0.15])
    assert [line.count("#") for line in (first, second, third)] == [40, 20, 1]
    assert all("#" not in line for line in rest)
    assert first.startswith("    up to 0.05 ms |")
    assert "99" not in first
    assert " 66.12%     80" in first


def test_what_is_very_late_has_a_bar_of_its_own() -> None:
    assert drawn([400.0])[-1].lstrip().startswith("over 10 ms |####")
    assert len(drawn([0.01])) == 5, "up to 1 ms all are drawn"


def test_no_value_is_no_figure() -> None:
    assert Figures.of([]) == Figures(0)
    assert all("#" not in line for line in drawn([]))


def test_figures() -> None:
    values = [0.1] * 98 + [0.6, 7.0]
    figures = Figures.of(values[::-1])
    assert (figures.count, figures.p50, figures.p99, figures.worst, figures.over) == (100, 0.1, 0.6, 7.0, 1)
    assert figures.jitter == pytest.approx(0.5)
