"""What the log shows: sums by day, tempi by key, keys nobody has been to, what has rested longest.

Each is a question or two to the file, answered from an index alone.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from typing import NamedTuple

from introit.practice.log.played import day_from, day_number
from introit.theory.key import Key, Mode, keys


class Which(NamedTuple):
    """Which passes are looked at.

    Attributes:
        intro: of this intro only; None for every one.
        since: from this day on; None from the first.
    """

    intro: str | None = None
    since: date | None = None


@dataclass(frozen=True, slots=True)
class Day:
    """A day on the wall.

    Attributes:
        day: the day.
        seconds: that passes took.
        passes: how many.
        clean: how many of them the player called clean.
    """

    day: date
    seconds: float = 0.0
    passes: int = 0
    clean: int = 0


@dataclass(frozen=True, slots=True)
class InKey:
    """What was played of an intro, or of all, in a key; whole passes only.

    Attributes:
        intro: its id; empty for all intros together.
        key: the key, under the name by which `theory.key.keys` knows it.
        passes: how many.
        slowest, fastest: tempi, quarter notes a minute.
        clean: the fastest tempo that was called clean; None where nothing was.
        last: the last day.
    """

    intro: str
    key: Key
    passes: int
    slowest: float
    fastest: float
    clean: float | None
    last: date


@dataclass(frozen=True, slots=True)
class Visited:
    """How much of the circle of keys an intro has been round.

    Attributes:
        intro: its id.
        mode: of the keys.
        visited: keys in which it was played, of twelve.
        never: the others, round the cycle of fourths from C.
        last: the last day on which it was played in the mode.
    """

    intro: str
    mode: Mode
    visited: int
    never: tuple[Key, ...]
    last: date


def by_day(connection: sqlite3.Connection, which: Which, *, first: date, last: date) -> list[Day]:
    """Every day from the first to the last, those without a pass as well."""
    where, values = _where(which, "day BETWEEN ? AND ?", day_number(first), day_number(last))
    rows = connection.execute(
        f"SELECT day, sum(seconds), count(*), sum(clean) FROM passes {where} GROUP BY day", values
    )
    found = {
        number: Day(day_from(number), seconds, passes, clean or 0) for number, seconds, passes, clean in rows
    }
    numbers = range(day_number(first), day_number(last) + 1)
    return [found.get(number) or Day(day_from(number)) for number in numbers]


def in_keys(connection: sqlite3.Connection, which: Which) -> list[InKey]:
    """One for each intro in each key in which it was played, by intro and then in the order of `circle`."""
    where, values = _where(which, "whole = 1")
    rows = connection.execute(
        "SELECT intro, key, count(*), min(tempo), max(tempo), max(CASE WHEN clean THEN tempo END), max(day) "
        f"FROM passes {where} GROUP BY intro, key",
        values,
    )
    found = [
        InKey(intro, same_key(key), passes, slowest, fastest, clean, day_from(last))
        for intro, key, passes, slowest, fastest, clean, last in rows
    ]
    return _together(found)


def all_intros(found: Iterable[InKey]) -> list[InKey]:
    """The same with all intros together: one for each key."""
    return _together(
        InKey("", one.key, one.passes, one.slowest, one.fastest, one.clean, one.last) for one in found
    )


def visited(found: Sequence[InKey], modes: dict[str, Sequence[Mode]]) -> list[Visited]:
    """How far round each intro has been, in each mode that it has; what was played last comes first.

    Args:
        found: what was played, of each intro.
        modes: of each intro, which modes it has forms for; of one that is not there, those it was played in.
    """
    answers = []
    for intro in dict.fromkeys(one.intro for one in found):
        own = [one for one in found if one.intro == intro]
        played = {one.key for one in own}
        there = modes.get(intro) or sorted({key.mode for key in played})
        for mode in there:
            never = tuple(key for key in circle(mode) if key not in played)
            last = max((one.last for one in own if one.key.mode == mode), default=date.min)
            answers.append(Visited(intro, mode, 12 - len(never), never, last))
    return sorted(answers, key=lambda one: (-one.last.toordinal(), one.intro))


def rested(found: Iterable[InKey]) -> list[InKey]:
    """Each intro in each key, what has not been played for longest first."""
    return sorted(found, key=lambda one: (one.last, one.intro, _place(one.key)))


def first_day(connection: sqlite3.Connection, which: Which) -> date | None:
    """The day of the earliest pass; None where there is none."""
    where, values = _where(which, "1")
    number = connection.execute(f"SELECT min(day) FROM passes {where}", values).fetchone()[0]
    return None if number is None else day_from(number)


def week_before(today: date) -> date:
    """The first of the seven days that end today."""
    return today - timedelta(days=6)


@cache
def circle(mode: Mode) -> tuple[Key, ...]:
    """The twelve keys of a mode round the cycle of fourths: C, F, Bb, Eb ..."""
    by_pitch = keys(mode)
    return tuple(by_pitch[5 * step % 12] for step in range(12))


@cache
def same_key(name: str) -> Key:
    """The key by the name that `circle` has for it: F# major is Gb.

    Raises:
        NotationError: if it is no key.
    """
    return plain_key(Key.from_text(name))


def plain_key(key: Key) -> Key:
    """The same, for a key."""
    return Key.from_pitch_class(key.tonic.pitch_class, key.mode)


def _together(found: Iterable[InKey]) -> list[InKey]:
    """Those of the same intro and key added up: a key may have been called by two names."""
    sums: dict[tuple[str, Key], InKey] = {}
    for one in found:
        at = (one.intro, one.key)
        sums[at] = _sum(sums[at], one) if at in sums else one
    return sorted(sums.values(), key=lambda one: (one.intro, _place(one.key)))


def _sum(one: InKey, other: InKey) -> InKey:
    return InKey(
        one.intro,
        one.key,
        one.passes + other.passes,
        min(one.slowest, other.slowest),
        max(one.fastest, other.fastest),
        max((tempo for tempo in (one.clean, other.clean) if tempo is not None), default=None),
        max(one.last, other.last),
    )


def _place(key: Key) -> tuple[bool, int]:
    return key.is_minor, circle(key.mode).index(key)


def _where(which: Which, condition: str, *values: object) -> tuple[str, list[object]]:
    parts, given = [condition], list(values)
    if which.intro is not None:
        parts.append("intro = ?")
        given.append(which.intro)
    if which.since is not None:
        parts.append("day >= ?")
        given.append(day_number(which.since))
    return f"WHERE {' AND '.join(parts)}", given
