"""What `introit log` tells, gathered from the log as plain values, and the same for programs."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from introit.library.model import Library
from introit.practice.log.due import Due, NoFsrsError, due
from introit.practice.log.homework import TuneDone
from introit.practice.log.views import (
    Day,
    InKey,
    Visited,
    Which,
    all_intros,
    by_day,
    first_day,
    in_keys,
    rested,
    visited,
    week_before,
)  # fmt: skip
from introit.theory.key import Mode


@dataclass(frozen=True, slots=True)
class Facts:
    """What the log knows.

    Attributes:
        today: the day on the wall.
        days: every day from the first that was asked for, or of the last seven.
        tempi: what was played in each key, all intros that were asked for together.
        visited: how far round the keys each intro has been.
        rested: each intro in each key, the longest unpractised first.
        due: what is due when; None where nothing can tell.
        no_due: why nothing can; empty where something does.
    """

    today: date
    days: list[Day]
    tempi: list[InKey]
    visited: list[Visited]
    rested: list[InKey]
    due: list[Due] | None
    no_due: str = ""

    @property
    def anything(self) -> bool:
        """Whether a pass was found at all."""
        return bool(self.rested) or any(day.passes for day in self.days)


def facts(connection: sqlite3.Connection, which: Which, today: date, library: Library) -> Facts:
    """Everything that `introit log` shows.

    Args:
        connection: to the log.
        which: the passes for days and tempi; what was visited, has rested or is due goes by all of the time.
        today: the day on the wall.
        library: tells which modes an intro has.

    Raises:
        sqlite3.Error: if the log cannot be read.
    """
    ever = in_keys(connection, Which(which.intro))
    since = in_keys(connection, which) if which.since else ever
    first = week_before(today)
    if which.since:
        first = max(which.since, first_day(connection, which) or which.since)
    modes: dict[str, Sequence[Mode]] = {
        intro.id: sorted({form.mode for form in intro.forms}) for intro in library.intros.values()
    }
    try:
        coming, needed = due(connection, today), ""
    except NoFsrsError as error:
        coming, needed = None, str(error)
    return Facts(
        today=today,
        days=by_day(connection, which, first=min(first, today), last=today),
        tempi=all_intros(since),
        visited=visited(ever, modes),
        rested=rested(ever),
        due=coming if coming is None else [one for one in coming if which.intro in {None, one.intro}],
        no_due=needed,
    )


def document(found: Facts) -> dict[str, Any]:
    """The same for programs: days as `2026-12-01`, tempi in quarter notes a minute."""
    return {
        "today": str(found.today),
        "days": [
            {"day": str(day.day), "seconds": day.seconds, "passes": day.passes, "clean": day.clean}
            for day in found.days
        ],
        "tempi": [_in_key(one) for one in found.tempi],
        "visited": [
            {
                "intro": one.intro,
                "mode": str(one.mode),
                "visited": one.visited,
                "never": [str(key) for key in one.never],
            }
            for one in found.visited
        ],
        "rested": [
            {"intro": one.intro, **_in_key(one), "days": (found.today - one.last).days}
            for one in found.rested
        ],
        "due": None
        if found.due is None
        else [
            {
                "intro": one.intro,
                "key": str(one.key),
                "due": str(one.due),
                "last": str(one.last),
                "remembered": round(one.remembered, 4),
            }
            for one in found.due
        ],
    }


def homework_document(found: Sequence[TuneDone], today: date) -> dict[str, Any]:
    """Homework for programs."""
    return {
        "today": str(today),
        "done": not any(one.left for one in found),
        "tunes": [
            {
                "tune": one.tune.id,
                "title": one.tune.title,
                "tempo": one.tempo,
                "by": None if one.by is None else str(one.by),
                "days_to_go": one.days_to_go(today),
                "keys": [
                    {
                        "key": str(key.key),
                        "clean": key.clean,
                        "wanted": key.wanted,
                        "fastest_clean": key.fastest,
                        "done_on": None if key.day is None else str(key.day),
                    }
                    for key in one.keys
                ],
            }
            for one in found
        ],
    }


def _in_key(one: InKey) -> dict[str, Any]:
    return {
        "key": str(one.key),
        "passes": one.passes,
        "slowest": one.slowest,
        "fastest": one.fastest,
        "fastest_clean": one.clean,
        "last": str(one.last),
    }


def days_back(today: date, number: int) -> date:
    """The day so many days before; the first of the calendar where there are none."""
    return today - timedelta(days=min(number, today.toordinal() - 1))
