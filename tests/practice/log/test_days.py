"""A pass belongs to the day on the wall where it was played: across midnight, and where clocks are changed.

The zone is named by a POSIX rule (IEEE Std 1003.1, Base Definitions 8.3, `TZ`), so that the system's C
library does the reckoning, and no file of zones is needed: Central European Time, whose clocks go forward on
the last Sunday in March at 2:00 and back on the last Sunday in October at 3:00.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest

from introit.practice.log import Played
from introit.practice.log.played import at_home, day_from, day_number
from introit.practice.log.store import Store
from introit.practice.log.views import Day, Which, by_day

Make = Callable[..., Played]


@pytest.fixture
def central_europe(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    if not hasattr(time, "tzset"):
        pytest.skip("this system's C library reads no TZ")
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def days(store: Store, first: date, last: date) -> list[tuple[date, int]]:
    return [(day.day, day.passes) for day in by_day(store.connection, Which(), first=first, last=last)]


@pytest.mark.usefixtures("central_europe")
def test_on_both_sides_of_midnight_are_two_days(store: Store, played: Make) -> None:
    # 22:59:59 and 23:00:00 in UTC, in winter
    store.add([played(datetime(2026, 1, 10, 22, 59, 59, tzinfo=UTC), seconds=90)])
    store.add([played(datetime(2026, 1, 10, 23, 0, tzinfo=UTC))])
    assert days(store, date(2026, 1, 10), date(2026, 1, 11)) == [
        (date(2026, 1, 10), 1),
        (date(2026, 1, 11), 1),
    ]
    assert [one.began.isoformat() for one in store.passes()] == [
        "2026-01-10T23:59:59+01:00",
        "2026-01-11T00:00:00+01:00",
    ]


@pytest.mark.usefixtures("central_europe")
def test_the_day_on_which_clocks_go_forward_has_23_hours(store: Store, played: Make) -> None:
    midnight = datetime(2026, 3, 28, 23, 0, tzinfo=UTC)  # 29 March, 0:00 CET
    store.add([played(midnight + timedelta(hours=n)) for n in range(-1, 24)])
    assert days(store, date(2026, 3, 28), date(2026, 3, 30)) == [
        (date(2026, 3, 28), 1),
        (date(2026, 3, 29), 23),
        (date(2026, 3, 30), 1),
    ]
    offsets = [one.began.utcoffset() for one in store.passes()]
    assert offsets == [timedelta(hours=1)] * 3 + [timedelta(hours=2)] * 22


@pytest.mark.usefixtures("central_europe")
def test_the_day_on_which_clocks_go_back_has_25_hours_and_no_pass_of_it_is_mixed_up(
    store: Store, played: Make
) -> None:
    midnight = datetime(2026, 10, 24, 22, 0, tzinfo=UTC)  # 25 October, 0:00 CEST
    passes = [played(midnight + timedelta(hours=n)) for n in range(26)]
    store.add(passes)
    assert days(store, date(2026, 10, 25), date(2026, 10, 26)) == [
        (date(2026, 10, 25), 25),
        (date(2026, 10, 26), 1),
    ]
    kept = store.passes()
    assert [one.began for one in kept] == [one.began for one in passes]
    assert [one.began.strftime("%H:%M") for one in kept[2:4]] == [
        "02:00",
        "02:00",
    ]  # the hour that comes twice


def test_a_journey_changes_no_day_before_it(store: Store, played: Make) -> None:
    tokyo, new_york = timezone(timedelta(hours=9)), timezone(timedelta(hours=-5))
    morning = datetime(2026, 1, 10, 8, 0, tzinfo=tokyo)  # the evening of the ninth in New York
    store.add([played(morning)], tokyo)
    store.add([played(morning + timedelta(hours=1))], new_york)
    assert days(store, date(2026, 1, 9), date(2026, 1, 10)) == [(date(2026, 1, 9), 1), (date(2026, 1, 10), 1)]


def test_days_without_a_pass_are_told_too(store: Store, played: Make) -> None:
    store.add([played(datetime(2026, 1, 10, 12, tzinfo=UTC), seconds=61.5, clean=True)], UTC)
    found = by_day(store.connection, Which(), first=date(2026, 1, 9), last=date(2026, 1, 11))
    assert found == [
        Day(date(2026, 1, 9)),
        Day(date(2026, 1, 10), 61.5, 1, 1),
        Day(date(2026, 1, 11)),
    ]


def test_days_are_numbered_from_1970() -> None:
    assert day_number(date(1970, 1, 1)) == 0
    assert day_number(date(2000, 3, 1)) == 11017  # Julian day 2451605 less 2440588
    assert day_from(11017) == date(2000, 3, 1)


def test_an_instant_is_kept_to_the_millisecond() -> None:
    began = datetime(2026, 1, 10, 12, 0, 0, 123_999, tzinfo=UTC)
    assert at_home(began, timezone(timedelta(hours=5, minutes=45))).isoformat() == (
        "2026-01-10T17:45:00.123000+05:45"
    )


def test_the_path_is_what_was_given(store: Store, path: Path) -> None:
    assert store.path == path
