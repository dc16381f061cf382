"""A tapped count-off is read as a musician would: its tempo, its bar, and what in it was an accident.

The simulated players are those of tests/bench/tapping.py, with their sources. What a count of exact taps
leads to is arithmetic; that four taps (five, three, two on half notes) are a bar of count-off is common
practice (no source).
"""

from __future__ import annotations

import importlib.util
import sys
from functools import cache
from itertools import pairwise
from math import exp, log
from pathlib import Path
from random import Random
from statistics import correlation, fmean, pstdev
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.live.tapping import LEANING, TAPS_MAX, WIDE, Entry, Tapping
from introit.units import NS_PER_MINUTE, NS_PER_MS, NS_PER_SECOND


def load_bench() -> ModuleType:
    path = Path(__file__).parents[1] / "bench" / "tapping.py"
    spec = importlib.util.spec_from_file_location("bench_tapping", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


bench = load_bench()
START = 77 * NS_PER_SECOND


def entries(
    tempo: float, beats: int, quarters: list[float], *, at: float | None = None
) -> list[Entry | None]:
    """The entry after each tap; taps in quarter notes at the tempo `at` (the tune's own if None)."""
    tapping, told = Tapping(tempo, beats), []
    for quarter in quarters:
        tapping.tap(START + round(quarter * NS_PER_MINUTE / (at or tempo)))
        told.append(tapping.entry)
    return told


def quarters_to(entry: Entry | None, tempo: float) -> float:
    """The entry's downbeat in quarter notes from the beginning."""
    assert entry is not None
    return round((entry.downbeat - START) * tempo / NS_PER_MINUTE, 6)


WHOLE = [
    # tune, beats, taps in quarters, downbeat in quarters, unit, how many taps were needed to know it
    (132, 4, [0, 1, 2, 3], 4, 1, 3),
    (150, 3, [0, 1, 2], 3, 1, 3),
    (160, 5, [0, 1, 2, 3, 4], 5, 1, 4),
    (240, 4, [0, 2], 4, 2, 2),
    (190, 3, [0, 3], 6, 3, 2),
    (54, 4, [0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5], 4, 0.5, 5),
    (50, 3, [0, 0.5, 1, 1.5, 2, 2.5], 3, 0.5, 5),
]


@pytest.mark.parametrize(("tempo", "beats", "taps", "downbeat", "unit", "needed"), WHOLE)
@pytest.mark.parametrize("away", [-0.15, 0, 0.15])
def test_an_exact_count_leads_to_the_next_downbeat(
    tempo: float, beats: int, taps: list[float], downbeat: int, unit: float, needed: int, away: float
) -> None:
    tapped = tempo * exp(away)
    told = entries(tempo, beats, taps, at=tapped)
    assert [entry is not None for entry in told] == [number >= needed for number in range(1, len(taps) + 1)]
    for entry in told[needed - 1 :]:
        assert quarters_to(entry, tapped) == pytest.approx(downbeat, abs=1e-6)
    assert told[-1] is not None
    assert told[-1].tempo == pytest.approx(tapped)
    assert (told[-1].unit, told[-1].taps) == (unit, len(taps))


@pytest.mark.parametrize(("tempo", "beats", "taps", "downbeat", "unit", "needed"), WHOLE)
def test_a_tap_more_or_two_change_nothing(
    tempo: float, beats: int, taps: list[float], downbeat: int, unit: float, needed: int
) -> None:
    told = entries(tempo, beats, taps)[-1]
    for late in (-0.2, 0, 0.2):
        more = [*taps, downbeat + late, downbeat + late + 0.9]
        assert entries(tempo, beats, more)[-2:] == [told, told]


def test_the_fourth_tap_refines_what_three_have_told() -> None:
    three, four = entries(120, 4, [0, 1.08, 2.1, 3.1])[2:]
    assert three is not None
    assert four is not None
    assert abs(quarters_to(four, 120) - 4.1) < abs(quarters_to(three, 120) - 4.1)
    assert abs(four.tempo - 120) < abs(three.tempo - 120)


@pytest.mark.parametrize("beats", [3, 4, 5])
def test_the_unit_is_the_nearest_to_the_tunes_tempo_with_a_leaning_to_one_tap_a_beat(beats: int) -> None:
    edge = exp((log(2) + LEANING) / 2)  # how much faster than the tune until taps are eighths
    for ratio, unit in ((edge * 1.01, 0.5), (edge / 1.01, 1)):
        told = entries(100, beats, list(range(12)), at=100 * ratio)
        first = next(entry for entry in told if entry is not None)
        assert first.unit == unit
        assert first.tempo == pytest.approx(100 * ratio * unit)


def test_slow_taps_are_half_notes_or_bars_of_a_waltz_from_so_slow_on() -> None:
    # What may as well be beats, played slower, waits for a third tap: a student who takes it easy.
    slower, faster = (entries(200, 4, [0, 1, 2, 3], at=200 / WIDE * by) for by in (0.99, 1.01))
    assert slower[1] is not None
    assert slower[1].unit == 2
    assert faster[1] is None
    assert faster[2] is not None
    assert faster[2].unit == 1
    bars = entries(180, 3, [0, 3 * WIDE * 0.99])[-1]
    assert bars is not None
    assert (bars.unit, bars.tempo) == (3, pytest.approx(180 / WIDE / 0.99))


def test_the_last_interval_weighs_most_and_the_first_least() -> None:
    for beats, taps in ((4, 4), (5, 5)):
        moved = []
        for longer in range(1, taps):
            told = entries(120, beats, [place + 0.02 * (place >= longer) for place in range(taps)])[-1]
            assert told is not None
            moved.append(120 - told.tempo)
        assert moved == sorted(moved)
        assert moved[-1] > 1.3 * fmean(moved)


def test_the_entry_is_fitted_to_all_taps_not_hung_on_the_last() -> None:
    for late in (-0.06, 0.06):
        told = entries(120, 4, [0, 1, 2, 3 + late])[-1]
        hung = 3 + late + 120 / told.tempo if told else 0
        assert 0 < (hung - quarters_to(told, 120)) / late < 0.5


ACCIDENTS = [
    # taps in quarters, taps used, what happened
    (4, [0, 1, 3], 3, "one missed"),
    (4, [0, 2, 3], 3, "another missed"),
    (4, [0, 1, 1.1, 2, 3], 4, "a bounce"),
    (4, [0, 0.15, 1, 2, 3], 4, "a bounce on the first"),
    (4, [0, 1, 1.5, 2, 3], 4, "one halved"),
    (4, [0, 0.5, 1, 2, 3], 4, "the first halved"),
    (4, [0, 1, 2, 2.9, 3], 4, "a grace before the last"),
    (4, [0, 0.88, 1, 2, 3], 4, "a grace before the second"),
    (4, [0, 1, 1.1, 1.2, 2, 3], 4, "bounced twice"),
    (5, [0, 1, 3, 4], 4, "one missed in 5/4"),
    (5, [0, 2, 3, 4], 4, "another missed in 5/4"),
    (3, [0, 2], 2, "one missed in 3/4"),
    (4, [0, 1, 1.1, 3], 3, "a bounce and one missed"),
]


@pytest.mark.parametrize(("beats", "taps", "used", "what"), ACCIDENTS)
@pytest.mark.parametrize("away", [-0.1, 0, 0.1])
def test_accidents_do_no_harm(beats: int, taps: list[float], used: int, what: str, away: float) -> None:
    tapped = 132 * exp(away)
    told = entries(132, beats, taps, at=tapped)[-1]
    assert told is not None, what
    near = 0.02 if "grace" in what else 1e-4  # a grace note may be used for its tap until the next tap tells
    assert quarters_to(told, tapped) == pytest.approx(beats, abs=near)
    assert told.tempo == pytest.approx(tapped, rel=near)
    assert told.taps == used


def test_a_flam_before_the_first_tap_is_told_from_it_by_the_others() -> None:
    told = entries(120, 4, [-0.2, 0, 1, 2, 3])[-1]
    assert quarters_to(told, 120) == pytest.approx(4, abs=1e-6)
    assert told is not None
    assert told.taps == 4


def test_a_stray_tap_before_a_count_does_not_move_it() -> None:
    told = entries(160, 5, [-0.62, 0, 1, 2, 3, 4])[-1]
    assert quarters_to(told, 160) == pytest.approx(5, abs=1e-4)


def test_a_count_whose_downbeat_has_passed_gives_no_entry() -> None:
    # Two eighths and a beat lead to 3; the taps after them are on no beat, the last of them behind it.
    for beats, taps in ((3, [0, 0.52, 1.03, 1.51, 2.27, 3.95]), (5, [0, 0.47, 0.96, 3.08, 3.63, 5.77])):
        for number, told in enumerate(entries(100, beats, taps)):
            assert told is None or told.downbeat >= START + round(taps[number] * NS_PER_MINUTE / 100)


def test_a_tempo_at_the_limit_stays_within_it() -> None:
    told = entries(400, 4, [0, 1, 1.98, 2.94])[-1]
    assert told is not None
    assert told.tempo == 400


def test_a_count_that_is_broken_off_is_forgotten() -> None:
    tapping = Tapping(120, 4)
    assert tapping.next_due is None
    assert not tapping.forgotten(10**15)
    tapping.tap(START)
    due = tapping.next_due
    assert due is not None
    # A tap as late as two quarters at the slowest tempo allowed may still belong to it.
    assert due - START == round(2 * WIDE * NS_PER_SECOND / 2)
    assert not tapping.forgotten(due - 1)
    assert tapping.forgotten(due)
    for place in range(4):  # the next tap is the first of another count
        tapping.tap(due + 500 * NS_PER_MS * place)
    assert tapping.entry == Entry(due + 2 * NS_PER_SECOND, 120.0, 1.0, 4)
    assert tapping.next_due == due + 2 * NS_PER_SECOND
    assert not tapping.forgotten(due + NS_PER_MINUTE)


def test_drumming_that_is_no_count_does_not_spoil_the_next() -> None:
    tapping = Tapping(120, 4)
    for place in range(TAPS_MAX):
        tapping.tap(START + 20 * NS_PER_MS * place)
    assert tapping.entry is None
    again = START + NS_PER_SECOND
    for place in range(4):
        tapping.tap(again + 500 * NS_PER_MS * place)
    assert tapping.entry == Entry(again + 2 * NS_PER_SECOND, 120.0, 1.0, 4)


def test_what_cannot_be_counted_is_refused() -> None:
    with pytest.raises(ValueError, match="beats a bar is 7; allowed is 3, 4, 5"):
        Tapping(120, 7)
    with pytest.raises(ValueError, match="tempo is 20; allowed is 30 to 400"):
        Tapping(20, 4)


tunes = st.tuples(st.integers(30, 400), st.sampled_from([3, 4, 5]))
free = st.lists(st.integers(-(10**18), 10**18), max_size=20)
near = st.lists(st.integers(-50, 1500), max_size=30).map(
    lambda steps: [START + sum(steps[: number + 1]) * NS_PER_MS for number in range(len(steps))]
)
even = st.builds(
    lambda step, errors: [START + (place * step + error) * NS_PER_MS for place, error in enumerate(errors)],
    st.integers(100, 1500),
    st.lists(st.integers(-60, 60), max_size=12),
)


@given(tunes, st.one_of(free, near, even))
def test_any_taps_give_no_error_and_an_entry_that_neither_passed_nor_jumps(
    tune: tuple[int, int], taps: list[int]
) -> None:
    tapping, told, last = Tapping(*tune), None, None
    for ns in taps:
        was_due = tapping.next_due
        tapping.tap(ns)
        entry = tapping.entry
        if told is not None:
            assert entry is not None
            if ns >= told.downbeat:
                assert entry == told
            assert abs(entry.downbeat - told.downbeat) <= NS_PER_MINUTE / told.tempo / 2
        if entry is not None and entry != told:
            assert entry.downbeat >= ns
            assert last is None or ns > last
            assert 30 <= entry.tempo <= 400
            assert 1 / WIDE / 1.15 < entry.tempo / tune[0] < WIDE * 1.15
            assert entry.taps <= len(taps)
        if last is not None and ns <= last:
            assert (entry, tapping.next_due) == (told, was_due)
        told, last = entry, ns if last is None else max(last, ns)


@given(tunes, st.one_of(near, even), st.integers(-(10**15), 10**15))
def test_only_the_distances_of_taps_matter(tune: tuple[int, int], taps: list[int], shift: int) -> None:
    here, there = Tapping(*tune), Tapping(*tune)
    for ns in taps:
        here.tap(ns)
        there.tap(ns + shift)
    moved = here.entry and here.entry._replace(downbeat=here.entry.downbeat + shift)
    assert there.entry == moved


def test_the_players_are_as_uneven_as_the_model_says() -> None:
    # Wing and Kristofferson 1973: variance = clock + 2 x limb, lag-one correlation = -limb's share of it.
    count = bench.Count(120, 4, 1, 3000)
    taps = bench.tap(Random(1), count, bench.MUSICAL).taps
    intervals = [two - one for one, two in pairwise(taps)]
    assert fmean(intervals) == pytest.approx(0.5, rel=0.01)
    assert pstdev(intervals) / fmean(intervals) == pytest.approx(bench.MUSICAL, rel=0.05)
    assert correlation(intervals[:-1], intervals[1:]) == pytest.approx(bench.CORRELATION, abs=0.05)


@cache
def compared(case: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Ours and the average's errors, on the same counts."""
    counts = bench.players(case, 120)
    return bench.errors(bench.ours, counts), bench.errors(bench.average, counts)


STEADY = [case for case, (_, _, ease, harm) in bench.CASES.items() if not ease and harm is None]


@pytest.mark.parametrize("case", STEADY)
def test_a_steady_player_is_read_about_as_well_as_by_the_average(case: str) -> None:
    ours, average = compared(case)
    assert ours.lost == 0
    assert ours.entry < 1.2 * average.entry
    assert ours.tempo < 1.5 * average.tempo
    assert ours.tempo_95 < 7


def test_a_tempo_found_while_tapping_is_read_better_than_by_the_average() -> None:
    ours, average = compared("four, tempo found while tapping")
    assert ours.lost == 0
    assert ours.tempo < 0.7 * average.tempo
    assert ours.entry < 0.9 * average.entry


@pytest.mark.parametrize("harm", ["missed", "doubled", "halved", "more", "left out"])
def test_accidents_of_real_players_do_no_harm_where_they_ruin_the_average(harm: str) -> None:
    for case in (case for case in bench.CASES if case.endswith(harm)):
        ours, average = compared(case)
        whole, _ = compared("four")
        assert ours.lost <= 0.01, case
        assert ours.tempo < 1.5 * whole.tempo, case
        assert average.lost > 0.3 or average.entry > 5 * ours.entry, case
