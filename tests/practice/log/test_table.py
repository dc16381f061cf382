"""The log as CSV: out and back it is the same passes; a mistake in it is told by its line and column."""

from __future__ import annotations

import contextlib
import csv
import io
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from introit.errors import UsageError
from introit.practice.log import Played
from introit.practice.log.played import at_home
from introit.practice.log.store import Store
from introit.practice.log.table import COLUMNS, from_csv, to_csv
from introit.theory.key import Key, Mode, keys

Make = Callable[..., Played]
ZONES = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
WORDS = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]), max_size=12)
TEMPI = st.floats(30, 400)
PASSES = st.lists(
    st.builds(
        Played,
        began=st.datetimes(datetime(1970, 1, 2), datetime(2400, 1, 1), timezones=ZONES).map(
            lambda began: at_home(began, began.tzinfo)
        ),
        seconds=st.floats(0, 1e6),
        intro=WORDS.filter(bool),
        key=st.sampled_from(
            [*keys(Mode.MAJOR), *keys(Mode.MINOR), Key.from_text("F#"), Key.from_text("Ab minor")]
        ),
        tempo=TEMPI,
        tune=WORDS,
        hidden=st.lists(st.sampled_from(["melody", "comp", "bass"]), unique=True).map(tuple),
        clean=st.sampled_from([None, True, False]),
        mode=WORDS,
        goal=st.none() | TEMPI,
        bars=st.sampled_from(["", "3-4"]),
    ),
    max_size=8,
)


@settings(deadline=None)
@given(PASSES)
def test_out_and_back_it_is_the_same_passes(passes: list[Played]) -> None:
    back = from_csv("".join(to_csv(passes)))
    assert back == passes
    assert [one.began.utcoffset() for one in back] == [one.began.utcoffset() for one in passes]


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(PASSES)
def test_out_and_back_through_two_logs_it_is_the_same_passes(tmp_path: Path, passes: list[Played]) -> None:
    logs = [tmp_path / "one.sqlite", tmp_path / "other.sqlite"]
    for path in logs:
        path.unlink(missing_ok=True)
    one, other = (Store.open(path, pytest.fail) for path in logs)
    one.take_in(passes)
    kept = one.passes()
    assert kept == sorted(passes, key=lambda p: p.began)
    other.take_in(from_csv("".join(to_csv(kept))))
    assert other.passes() == kept
    assert [p.day for p in other.passes()] == [p.day for p in kept]
    one.close()
    other.close()


def test_a_table_is_what_other_programs_read(played: Make) -> None:
    one = played(key="Bb", hidden=("melody", "bass"), clean=True, goal=160.0, tune='a "b", c')
    (row,) = csv.DictReader(io.StringIO("".join(to_csv([one])), newline=""))
    assert row == {
        "began": "2026-03-04T12:00:00.000+00:00",
        "seconds": "20.0",
        "intro": "plain",
        "tune": 'a "b", c',
        "key": "Bb",
        "tempo": "120.0",
        "hidden": "melody bass",
        "clean": "yes",
        "mode": "loop",
        "goal": "160.0",
        "bars": "",
    }


def test_lines_end_as_rfc_4180_has_it(played: Make) -> None:
    assert all(line.endswith("\r\n") and line.count("\n") == 1 for line in to_csv([played(), played()]))


def test_columns_may_stand_in_any_order_with_others_beside(played: Make) -> None:
    rows = list(csv.reader(io.StringIO("".join(to_csv([played(key="F")])))))
    turned = io.StringIO()
    csv.writer(turned).writerows([["mine", *row[::-1]] for row in rows])
    assert from_csv("\ufeff" + turned.getvalue()) == [played(key="F")]


def changed(played: Make, column: str, value: str) -> str:
    head, row = csv.reader(io.StringIO("".join(to_csv([played()]))))
    row[head.index(column)] = value
    text = io.StringIO()
    csv.writer(text).writerows([head, row])
    return text.getvalue()


@pytest.mark.parametrize(
    ("column", "value", "says"),
    [
        (
            "began",
            "yesterday",
            "line 2, began: 'yesterday' is given; needed is a date and time with its",
        ),
        ("began", "2026-03-04T12:00:00", "with its zone"),
        ("began", "0001-01-01T00:00:00+14:00", "with its zone"),
        ("seconds", "-1", "line 2, seconds: '-1' is given"),
        ("seconds", "nan", "seconds, such as 12.5"),
        ("key", "H", "line 2, key: 'H'"),
        ("key", "D# minor", "Did you mean 'Eb minor'"),
        ("tempo", "fast", "a tempo from 30 to 400"),
        ("tempo", "500", "a tempo from 30 to 400"),
        ("goal", "12", "a tempo from 30 to 400, or nothing"),
        ("clean", "Yes", "yes, no or nothing"),
        ("intro", "a\x07", "an intro's id"),
    ],
)
def test_a_mistake_is_told_by_line_and_column(played: Make, column: str, value: str, says: str) -> None:
    with pytest.raises(UsageError) as told:
        from_csv(changed(played, column, value))
    assert says in str(told.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "line 1: there is no column 'began'"),
        (",".join(COLUMNS).replace("tempo", "tempos") + "\n", "'tempo'. Did you mean 'tempos'?"),
        (",".join(COLUMNS) + "\n2026-03-04T12:00:00+00:00,20\n", "line 2: it ends before the column 'intro'"),
        (",".join(COLUMNS) + '\n"never closed\n', "this is no table"),
    ],
)
def test_what_is_no_such_table_is_told(text: str, says: str) -> None:
    with pytest.raises(UsageError) as told:
        from_csv(text)
    assert says in str(told.value)


@given(st.text())
def test_whatever_is_read_ends_in_passes_or_a_mistake_that_is_told(text: str) -> None:
    with contextlib.suppress(UsageError):
        assert isinstance(from_csv(",".join(COLUMNS) + "\n" + text), list)
