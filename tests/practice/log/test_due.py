"""What is due: the package's own answers, for the ratings that a day's passes are worth."""

from __future__ import annotations

import builtins
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import fsrs
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from introit.practice.log import Played, PracticeLog
from introit.practice.log import due as reckoning
from introit.practice.log.due import AGAIN, GOOD, HARD, NoFsrsError, Review, due, rating
from introit.practice.log.store import Store
from introit.theory.key import Key

START = datetime(2026, 3, 1, 18, tzinfo=UTC)
Make = Callable[..., Played]


def review(text: str) -> Review:
    """`+` clean, `-` not, `.` nothing said; then the tempo, and behind a slash the one aimed at."""
    tempo, _, goal = text[1:].partition("/")
    return Review({"+": True, "-": False, ".": None}[text[0]], float(tempo), float(goal) if goal else None)


@pytest.mark.parametrize(
    ("passes", "worth"),
    [
        ("+120", GOOD),
        ("+120 -120", GOOD),
        (".120 +120", GOOD),
        ("+120/120", GOOD),
        ("+96/160 +128/160 +160/160", GOOD),
        ("+96/160 +128/160", HARD),
        ("-160/160 +160/160", HARD),
        ("-120 -120 +120", HARD),
        (".120", HARD),
        (".120 .160/120", HARD),
        ("-120", AGAIN),
        ("-120 .120 -90", AGAIN),
    ],
)
def test_what_a_day_is_worth(passes: str, worth: int) -> None:
    assert rating([review(text) for text in passes.split()]) == worth


def test_ratings_have_the_packages_numbers() -> None:
    assert (fsrs.Rating.Again, fsrs.Rating.Hard, fsrs.Rating.Good) == (AGAIN, HARD, GOOD)


def directly(days: list[tuple[int, int]]) -> fsrs.Card:
    """The package asked by itself: one review on each of these days, of these ratings."""
    scheduler = fsrs.Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
    card = fsrs.Card(card_id=1)
    for day, worth in days:
        when = datetime(2026, 3, 1, tzinfo=UTC) + timedelta(days=day)
        card, _ = scheduler.review_card(card, fsrs.Rating(worth), when)
    return card


def remembered(card: fsrs.Card, day: date) -> float:
    """The package's own answer on a day."""
    return fsrs.Scheduler().get_card_retrievability(card, datetime(day.year, day.month, day.day, tzinfo=UTC))


PASSES = st.lists(
    st.tuples(st.integers(0, 40), st.sampled_from(["C", "F#", "Gb"]), st.sampled_from([True, False, None])),
    min_size=1,
    max_size=25,
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(PASSES)
def test_cards_are_those_of_the_package_whenever_one_looks(
    tmp_path: Path, passes_given: list[tuple[int, str, bool | None]]
) -> None:
    path = tmp_path / "practice.sqlite"
    path.unlink(missing_ok=True)
    store = Store.open(path, pytest.fail)
    expected: dict[str, dict[int, list[Review]]] = {}
    for number, (day, key, clean) in enumerate(sorted(passes_given, key=lambda one: one[0])):
        began = START + timedelta(days=day, seconds=number)
        store.add([Played(began, 20, "plain", Key.from_text(key), 120, clean=clean)], UTC)
        name = key.replace("F#", "Gb")
        expected.setdefault(name, {}).setdefault(day, []).append(Review(clean, 120))
        found = {str(one.key): one for one in due(store.connection, began.date())}  # looks after every pass
        assert set(found) == set(expected)
        for name, days in expected.items():
            card = directly([(day, rating(passes)) for day, passes in days.items()])
            assert found[name].due == card.due.date()
            assert found[name].remembered == pytest.approx(remembered(card, began.date()))
            assert found[name].last == date(2026, 3, 1) + timedelta(days=max(days))
    store.close()


def test_only_whole_passes_count(store: Store, played: Make) -> None:
    store.add([played(bars="1-2"), played(mode="listen"), played(mode="build keys")], UTC)
    assert due(store.connection, date(2026, 3, 5)) == []


def test_what_is_due_first_stands_in_front_and_what_is_remembered_fades(store: Store, played: Make) -> None:
    store.add([played(START, key="C", clean=True), played(START, key="F", clean=False)], UTC)
    soon = due(store.connection, START.date())
    assert [str(one.key) for one in soon] == ["F", "C"]
    assert soon[0].due == date(2026, 3, 2)
    assert soon[1].due > date(2026, 3, 2)
    later = due(store.connection, date(2026, 4, 1))
    assert all(after.remembered < before.remembered <= 1 for after, before in zip(later, soon, strict=True))


def kept(store: Store) -> list[tuple[Any, ...]]:
    rows = store.connection.execute("SELECT * FROM cards ORDER BY intro, key").fetchall()
    return rows + store.connection.execute("SELECT * FROM settled").fetchall()


def test_days_that_are_over_are_kept_and_today_is_not(store: Store, played: Make) -> None:
    store.add([played(START), played(START + timedelta(days=1), key="F")], UTC)
    due(store.connection, date(2026, 3, 2))
    assert [row[:2] for row in kept(store)[:-1]] == [("plain", "C")]
    assert kept(store)[-1][0] == 1
    due(store.connection, date(2026, 3, 3))
    assert [row[:2] for row in kept(store)[:-1]] == [("plain", "C"), ("plain", "F")]
    assert kept(store)[-1][0] == 2


def test_a_clock_that_was_set_back_leaves_the_right_cards(store: Store, played: Make) -> None:
    for day in (0, 9, 3, 12):
        store.add([played(START + timedelta(days=day), clean=day != 3)], UTC)
        due(store.connection, START.date() + timedelta(days=day + 1))
    (found,) = due(store.connection, date(2026, 3, 30))
    assert found.due == directly([(0, GOOD), (3, AGAIN), (9, GOOD), (12, GOOD)]).due.date()


def test_days_to_come_are_not_kept_before_they_are_over(store: Store, played: Make) -> None:
    store.add([played(START + timedelta(days=30)), played(START)], UTC)  # the first with a wrong clock
    due(store.connection, date(2026, 3, 2))
    assert kept(store) == []
    due(store.connection, date(2026, 5, 1))
    assert kept(store)[-1][0] == 2


def test_cards_that_another_rule_made_are_reckoned_anew(
    store: Store, played: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.add([played(START, clean=True)], UTC)
    before = due(store.connection, date(2026, 3, 2))
    monkeypatch.setattr(reckoning, "RULE", 2)
    monkeypatch.setattr(reckoning, "rating", lambda passes: AGAIN)
    after = due(store.connection, date(2026, 3, 2))
    assert after[0].due < before[0].due
    assert kept(store)[-1][1].endswith("rule 2")
    assert len(kept(store)) == 2


def test_a_pass_that_comes_later_to_a_day_that_was_kept_counts_for_that_day(
    store: Store, played: Make
) -> None:
    store.add([played(START, clean=False)], UTC)
    due(store.connection, date(2026, 3, 2))
    store.add([played(START + timedelta(minutes=1), clean=True)], UTC)  # brought from another machine
    (found,) = due(store.connection, date(2026, 3, 2))
    assert found.remembered == pytest.approx(remembered(directly([(0, HARD)]), date(2026, 3, 2)))


def test_what_is_reckoned_anew_leaves_nothing_of_before(
    store: Store, played: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.add([played(START), played(START + timedelta(days=5), key="F")], UTC)
    due(store.connection, date(2026, 3, 7))
    monkeypatch.setattr(reckoning, "RULE", 2)
    due(store.connection, date(2026, 3, 6))  # a day earlier, west of where it was kept
    assert [row[:2] for row in kept(store)[:-1]] == [("plain", "C")]


def test_what_cannot_be_kept_is_told_all_the_same(store: Store, path: Path, played: Make) -> None:
    store.add([played(START, clean=True)], UTC)
    before = due(store.connection, START.date())
    store.connection.execute("PRAGMA query_only = 1")
    assert due(store.connection, date(2026, 3, 20))[0].due == before[0].due
    assert kept(store) == []


def test_without_the_package_one_line_says_what_to_install(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "fsrs", None)
    with pytest.raises(NoFsrsError, match=r"pip install '\.\[practice\]'"):
        due(store.connection, date(2026, 3, 2))


def test_without_the_package_practice_is_logged_all_the_same(
    path: Path, played: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def without(name: str, *rest: Any, **more: Any) -> Any:
        if name == "fsrs":
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with PracticeLog.open(pytest.fail, path=path) as log:
        log.add(played())
        assert log.settle()


def test_who_practises_reckons_so_that_nobody_waits_who_looks(path: Path, played: Make) -> None:
    store = Store.open(path, pytest.fail)
    store.add([played(START)], UTC)
    with PracticeLog.open(pytest.fail, path=path) as log:
        assert log.settle()
    assert [row[:2] for row in kept(store)[:-1]] == [("plain", "C")]
    store.close()
