"""How far homework has been done: what a set asks for, held against the log."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from introit.library.goals import Goal
from introit.library.model import SetList, Tune
from introit.practice.log.played import day_from, day_number
from introit.practice.log.views import same_key
from introit.theory.key import Key

_CLEAN = "SELECT key, tempo, day FROM passes WHERE whole = 1 AND clean = 1 AND"


@dataclass(frozen=True, slots=True)
class KeyDone:
    """A key that is asked for.

    Attributes:
        key: as the set names it.
        clean: clean passes at the tempo or faster.
        wanted: how many there should be.
        fastest: the fastest clean tempo; None where nothing was clean yet.
        day: on which the last that was wanted was played; None while it is not done.
    """

    key: Key
    clean: int
    wanted: int
    fastest: float | None
    day: date | None

    @property
    def done(self) -> bool:
        """Whether nothing is left to do."""
        return self.day is not None


@dataclass(frozen=True, slots=True)
class TuneDone:
    """What is asked for of a tune, and what of it is done.

    Attributes:
        tune: the tune.
        tempo: quarter notes a minute.
        by: the last day for it; None where none is given.
        keys: those that are asked for, in that order.
    """

    tune: Tune
    tempo: float
    by: date | None
    keys: tuple[KeyDone, ...]

    @property
    def left(self) -> tuple[KeyDone, ...]:
        """Keys that are not done."""
        return tuple(one for one in self.keys if not one.done)

    def days_to_go(self, today: date) -> int | None:
        """Days from today to the last day; below zero after it, None where none is given."""
        return None if self.by is None else (self.by - today).days


def homework(connection: sqlite3.Connection, work: SetList) -> list[TuneDone]:
    """Each tune of a set that something is asked of.

    A pass counts that was whole, was called clean and was not slower than asked, be it of the tune or of one
    of the intros that it names, practised alone; from `since` on, where the set says so.

    Args:
        connection: to the log.
        work: the set.
    """
    return [
        _tune(connection, tune, goal)
        for tune, goal in zip(work.tunes, work.goals, strict=bool(work.goals))
        if goal is not None
    ]


def _tune(connection: sqlite3.Connection, tune: Tune, goal: Goal) -> TuneDone:
    tempo = tune.tempo if goal.tempo is None else goal.tempo
    clean = _clean_passes(connection, tune, goal.first_day)
    return TuneDone(
        tune,
        tempo,
        goal.last_day,
        tuple(_key(key, clean.get(same_key(str(key)), ()), tempo, goal.clean) for key in goal.keys),
    )


def _key(key: Key, clean: Sequence[tuple[float, int]], tempo: float, wanted: int) -> KeyDone:
    days = sorted(day for fast, day in clean if fast >= tempo)
    return KeyDone(
        key,
        len(days),
        wanted,
        max((fast for fast, _ in clean), default=None),
        day_from(days[wanted - 1]) if len(days) >= wanted else None,
    )


def _clean_passes(
    connection: sqlite3.Connection, tune: Tune, since: date | None
) -> dict[Key, list[tuple[float, int]]]:
    """Tempo and day of every clean pass of a tune, by key."""
    first = 0 if since is None else day_number(since)
    found: dict[Key, list[tuple[float, int]]] = {}
    asked = [("tune = ?", (tune.id,)), *(("tune = '' AND intro = ?", (intro,)) for intro in tune.intros)]
    for condition, values in asked:
        rows = connection.execute(f"{_CLEAN} {condition} AND day >= ?", (*values, first))
        for key, tempo, day in rows:
            found.setdefault(same_key(key), []).append((tempo, day))
    return found
