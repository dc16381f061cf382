"""Pictures of the practice log: they can be read back, fit 80 columns, and are ASCII where they must be."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.cli.log_pictures import (
    DRAWN,
    TYPED,
    WIDTH,
    Marks,
    days,
    dues,
    homework,
    marks_for,
    rests,
    tempi,
    visits,
)  # fmt: skip
from introit.library.model import Tune
from introit.library.musical import FOUR_FOUR, TONIC
from introit.practice.log.due import Due
from introit.practice.log.homework import KeyDone, TuneDone
from introit.practice.log.views import Day, InKey, Visited, circle
from introit.theory.key import Key, Mode, keys

TODAY = date(2026, 3, 4)
EVERY = [*keys(Mode.MAJOR), *keys(Mode.MINOR)]
TEMPO = st.floats(30, 400)


def in_key(key: str, slowest: float, fastest: float, clean: float | None = None) -> InKey:
    return InKey("", Key.from_text(key), 1, slowest, fastest, clean, TODAY)


def test_minutes_are_as_long_as_their_bars() -> None:
    lines = days([Day(TODAY, 60.0 * n, n, n // 2) for n in range(5)], DRAWN)
    bars = [line.count(DRAWN.bar) for line in lines[:-1]]
    assert bars == [0, 6, 13, 20, 26]  # of 26 columns, to the nearest
    assert lines[0] == "Wed  4 Mar"
    assert lines[3].split() == ["Wed", "4", "Mar", "3", "min", DRAWN.bar * 20, "3", "passes,", "1", "clean"]
    assert lines[1].endswith("1 pass")
    assert lines[-1].split() == ["together", "10", "min", "10", "passes,", "4", "clean"]


@pytest.mark.parametrize(
    ("seconds", "says"), [(1, "1 min"), (89, "1 min"), (3600, "1 h 00"), (3600 * 2 + 60 * 5, "2 h 05")]
)
def test_time_is_said_as_players_say_it(seconds: float, says: str) -> None:
    assert says in days([Day(TODAY, seconds, 1, 0)], TYPED)[0]


def test_many_days_become_weeks_from_monday_and_then_months() -> None:
    def names(number: int) -> list[str]:
        found = [Day(TODAY - timedelta(days=number - 1 - n), 60, 1, 0) for n in range(number)]
        return [line[:11].strip() for line in days(found, TYPED)[:-1]]

    assert len(names(31)) == 31
    assert names(32)[:2] == ["01 Feb 2026", "02 Feb 2026"]  # a Sunday, then whole weeks
    mondays = [TODAY - timedelta(days=TODAY.weekday() + 7 * n) for n in range(5)]
    assert names(32)[1:] == [f"{monday:%d %b %Y}" for monday in reversed(mondays)]
    assert names(300)[0] == "May 2025"
    assert len(names(300)) == 11


def columns(line: str, marks: Marks) -> tuple[int, int, int | None]:
    """Where the picture of a key begins and ends, and where its mark is."""
    inner = line[9:58]
    drawn = [at for at, sign in enumerate(inner) if sign in (marks.line, marks.clean)]
    return drawn[0], drawn[-1], inner.index(marks.clean) if marks.clean in inner else None


@pytest.mark.parametrize("marks", [DRAWN, TYPED])
def test_a_tempo_can_be_read_off_the_scale(marks: Marks) -> None:
    lines = tempi([in_key("C", 90, 150, 120), in_key("Bb", 100, 138)], marks)
    scale = {float(found.group()): found.start() - 9 for found in re.finditer(r"\d+", lines[0])}
    assert list(scale) == [90, 110, 130, 150, 170]
    by_key = {line.split()[0]: line for line in lines[1:-1]}
    assert columns(by_key["C"], marks) == (scale[90], scale[150], (scale[110] + scale[130]) // 2)
    first, last, mark = columns(by_key["Bb"], marks)
    assert (first, mark) == ((scale[90] + scale[110]) // 2, None)
    assert abs(last - (scale[130] + (scale[150] - scale[130]) * 8 / 20)) <= 0.5
    assert by_key["C"].endswith("clean at 120")
    assert by_key["Bb"].endswith("100-138")


def test_keys_stand_round_the_circle_and_those_never_played_say_so() -> None:
    lines = tempi([in_key("C", 90, 150), in_key("F minor", 90, 150)], TYPED)[1:-1]
    named = [line[:9].strip() for line in lines]
    assert named == [str(key) for mode in (Mode.MAJOR, Mode.MINOR) for key in circle(mode)]
    assert [name for name, line in zip(named, lines, strict=True) if not line.endswith("never")] == [
        "C",
        "F minor",
    ]
    assert len(tempi([in_key("C", 90, 150)], TYPED)) == 14  # a mode that nobody played has no lines


def test_of_nothing_there_is_no_picture() -> None:
    assert tempi([], DRAWN) == []
    assert visits([], 8) == []


@given(st.lists(st.tuples(st.sampled_from(EVERY), TEMPO, TEMPO, st.booleans()), min_size=1, max_size=24))
def test_every_picture_of_tempi_fits(found: list[tuple[Key, float, float, bool]]) -> None:
    lines = tempi(
        [
            InKey("", key, 1, min(one, other), max(one, other), one if clean else None, TODAY)
            for key, one, other, clean in found
        ],
        DRAWN,
    )
    assert max(map(len, lines)) <= WIDTH


@given(
    st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=150),
    st.integers(0, 4000),
    st.lists(st.sampled_from(EVERY), unique=True),
)
def test_every_list_fits(name: str, ago: int, never: list[Key]) -> None:
    then = TODAY - timedelta(days=ago)
    lines = [
        *visits([Visited(name, Mode.MAJOR, 3, tuple(never), then)], 8),
        *rests([InKey(name, EVERY[-1], 1, 60, 60, None, then)], TODAY, 8),
        *dues([Due(name, EVERY[-1], then, then, 0.5)], TODAY, 8),
        *homework([TuneDone(tune(name), 400, then, (KeyDone(EVERY[-1], 0, 99, 399.5, None),))], TODAY, DRAWN),
    ]
    assert max(map(len, lines), default=0) <= WIDTH


def tune(title: str = "x") -> Tune:
    return Tune("x", title, EVERY[0], FOUR_FOUR, 120, "", TONIC)


def test_no_more_lines_than_asked_and_the_rest_is_counted() -> None:
    found = [Visited(f"intro-{n}", Mode.MAJOR, 3, (EVERY[1],), TODAY) for n in range(11)]
    lines = visits(found, 8)
    assert len(lines) == 9
    assert lines[-1] == "and 3 more; '--intro ID' tells of one"
    assert visits([Visited("plain", Mode.MAJOR, 12, (), TODAY)], 8) == ["1 intro round all keys"]
    assert visits([Visited("plain", Mode.MINOR, 0, circle(Mode.MINOR), TODAY)], 8) == [
        "plain: no minor key yet"
    ]


def test_what_was_played_today_has_not_rested() -> None:
    found = [InKey("a", EVERY[0], 1, 60, 60, None, TODAY - timedelta(days=1)), in_key("F", 60, 60)]
    assert rests(found, TODAY, 8) == ["    1 day  a in C"]


def test_what_is_due_and_what_will_be() -> None:
    found = [
        Due("a", EVERY[0], TODAY, TODAY - timedelta(days=2), 0.804),
        Due("b", EVERY[1], TODAY, TODAY, 0.9),
        *(Due("c", key, TODAY, TODAY + timedelta(days=n), 0.95) for n, key in enumerate(EVERY[:10], 1)),
    ]
    assert dues(found, TODAY, 8) == [
        "   2 days ago  a in C, 80% likely to be clean",
        "        today  b in Db, 90% likely to be clean",
        "7 more within a week",
    ]
    assert dues(found[2:], TODAY, 8) == ["nothing is due today", "7 more within a week"]


def test_homework_that_came_late_says_so() -> None:
    late = KeyDone(EVERY[0], 1, 1, 130.0, TODAY)
    assert homework([TuneDone(tune(), 120, TODAY - timedelta(days=1), (late,))], TODAY, TYPED) == [
        "x: at 120, 1 of 1 key done, by 2026-03-03 (late)",
        "  x C        1 of 1 clean, done on 2026-03-04",
        "",
        "all of it is done",
    ]


def test_a_terminal_without_the_signs_gets_ascii() -> None:
    assert marks_for("utf-8") is DRAWN
    assert marks_for("latin-1") is TYPED
    assert marks_for(None) is TYPED
    "".join(TYPED).encode("ascii")
    lines = [*days([Day(TODAY, 60, 1, 1)], TYPED), *tempi([in_key("C", 60, 90, 90)], TYPED)]
    "\n".join(lines).encode("ascii")
