"""Homework held against the log: which passes count, what is done, what is left."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from introit.library.content import program_root
from introit.library.goals import Goal
from introit.library.loader import load_library
from introit.library.model import SetList, Tune
from introit.practice.log import Played
from introit.practice.log.homework import KeyDone, homework
from introit.practice.log.store import Store
from introit.theory.key import Key

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)
BB, F = Key.from_text("Bb"), Key.from_text("F")
Make = Callable[..., Played]


@pytest.fixture(scope="module")
def tune() -> Tune:
    library, _ = load_library([program_root()])
    return replace(
        library.tunes["late-bus-to-orrin"], tempo=150.0, intro="dominant-vamp", more_intros=("other",)
    )


@pytest.fixture
def asked(tune: Tune) -> Callable[..., SetList]:
    def make(**told: Any) -> SetList:
        return SetList("lesson", "Lesson", (tune,), None, (Goal(**{"keys": (BB, F), "clean": 2, **told}),))

    return make


def keys_of(store: Store, work: SetList) -> list[KeyDone]:
    (one,) = homework(store.connection, work)
    return list(one.keys)


def test_nothing_is_done_without_a_pass(store: Store, asked: Callable[..., SetList]) -> None:
    (one,) = homework(store.connection, asked(by="2026-03-10"))
    assert [(key.clean, key.wanted, key.fastest, key.done) for key in one.keys] == [(0, 2, None, False)] * 2
    assert one.left == one.keys
    assert (one.tempo, one.by) == (150, date(2026, 3, 10))
    assert [one.days_to_go(date(2026, 3, day)) for day in (1, 10, 12)] == [9, 0, -2]


def test_a_set_without_goals_asks_for_nothing(store: Store, tune: Tune) -> None:
    assert homework(store.connection, SetList("set", "Set", (tune,))) == []
    assert homework(store.connection, SetList("set", "Set", (tune, tune), None, (None, None))) == []


@pytest.mark.parametrize(
    ("told", "counts"),
    [
        ({}, True),
        ({"tempo": 151.0}, True),
        ({"tempo": 149.9}, False),
        ({"clean": None}, False),
        ({"clean": False}, False),
        ({"bars": "1-2"}, False),
        ({"mode": "listen"}, False),
        ({"tune": "another"}, False),
        ({"intro": "whichever"}, True),
        ({"tune": "", "intro": "dominant-vamp"}, True),
        ({"tune": "", "intro": "other"}, True),
        ({"tune": "", "intro": "plain"}, False),
        ({"key": "F#"}, False),
        ({"hidden": ("melody",)}, True),
    ],
)
def test_which_passes_count(
    store: Store, played: Make, asked: Callable[..., SetList], told: dict[str, Any], counts: bool
) -> None:
    usual: dict[str, Any] = {"key": "Bb", "tempo": 150.0, "clean": True, "tune": "late-bus-to-orrin"}
    usual["intro"] = "dominant-vamp"
    store.add([played(**{**usual, **told})], UTC)
    first, second = keys_of(store, asked())
    assert (first.clean, second.clean) == (int(counts), 0)


def test_a_key_is_done_on_the_day_of_its_last_clean_pass_that_was_wanted(
    store: Store, played: Make, asked: Callable[..., SetList]
) -> None:
    def clean(day: int, tempo: float) -> Played:
        return played(NOON + timedelta(days=day), key="Bb", tempo=tempo, clean=True, tune="late-bus-to-orrin")

    store.add([clean(0, 150), clean(1, 120), clean(2, 180), clean(3, 150)], UTC)
    assert keys_of(store, asked())[0] == KeyDone(BB, 3, 2, 180.0, date(2026, 3, 6))
    assert keys_of(store, asked(since="2026-03-06"))[0] == KeyDone(BB, 2, 2, 180.0, date(2026, 3, 7))
    assert keys_of(store, asked(since="2026-03-07"))[0] == KeyDone(BB, 1, 2, 150.0, None)
    assert keys_of(store, asked(tempo=181.0))[0] == KeyDone(BB, 0, 2, 180.0, None)
    assert [str(one.key) for one in homework(store.connection, asked())[0].left] == ["F"]


def test_a_key_that_is_asked_for_by_its_other_name_counts(
    store: Store, played: Make, asked: Callable[..., SetList]
) -> None:
    store.add([played(key="Gb", tempo=150, clean=True, tune="late-bus-to-orrin")])
    (one,) = keys_of(store, asked(keys=(Key.from_text("F#"),), clean=1))
    assert one.done
    assert str(one.key) == "F#"
