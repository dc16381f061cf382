"""A log of an older version becomes one of this; a newer or a foreign one is left alone."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from introit.practice.log.opening import LogError
from introit.practice.log.played import ASIDE, Played
from introit.practice.log.schema import APPLICATION, STEPS, VERSION, bring_up
from introit.practice.log.store import Store

FIRST = """
CREATE TABLE passes (
    id INTEGER PRIMARY KEY AUTOINCREMENT, began INTEGER NOT NULL, offset INTEGER NOT NULL,
    day INTEGER NOT NULL, seconds REAL NOT NULL, intro TEXT NOT NULL, tune TEXT NOT NULL, key TEXT NOT NULL,
    tempo REAL NOT NULL, hidden TEXT NOT NULL, clean INTEGER,
    mode TEXT NOT NULL, goal REAL, bars TEXT NOT NULL);
CREATE INDEX passes_by_day ON passes (day, seconds, clean);
CREATE INDEX passes_by_key ON passes (intro, key, day, tempo, clean, bars, mode);
PRAGMA application_id = 0x496E7472;
PRAGMA user_version = 1;
INSERT INTO passes VALUES (1, 1772625600000, 60, 20516, 20, 'plain', '', 'Bb', 120, '', 1, 'loop', NULL, '');
INSERT INTO passes VALUES (2, 1772625660000, 60, 20516, 20, 'plain', 'late-bus', 'F# minor', 132.5,
    'melody bass', 0, 'keys climb', 160, '');
INSERT INTO passes VALUES (3, 1772625720000, 60, 20516, 9, 'plain', '', 'C', 120, '', NULL, 'loop', NULL,
    '3-4');
INSERT INTO passes VALUES (5, 1772625780000, 60, 20516, 9, 'plain', '', 'C', 120, '', NULL, 'listen', NULL,
    '');
"""
"""A log of version 1, written out by hand as that version wrote it."""


def dump(path: Path) -> list[str]:
    connection = sqlite3.connect(path)
    lines = list(connection.iterdump())
    connection.close()
    return lines


def by_hand(path: Path, text: str) -> None:
    connection = sqlite3.connect(path)
    connection.executescript(text)
    connection.close()


def kept(path: Path) -> list[Played]:
    store = Store.open(path, silent)
    passes = store.passes()
    store.close()
    return passes


def silent(message: str) -> None:
    raise AssertionError(message)


def test_a_log_of_version_1_keeps_every_pass(path: Path) -> None:
    by_hand(path, FIRST)
    said: list[str] = []
    store = Store.open(path, said.append)
    assert said == [f"the practice log was brought from version 1 to {VERSION}; every pass was kept"]
    one, other, part, ear = store.passes()
    assert (str(one.key), one.clean, one.goal, one.began.isoformat()) == (
        "Bb",
        True,
        None,
        "2026-03-04T13:00:00+01:00",
    )
    assert (other.tune, other.hidden, other.tempo, other.goal) == ("late-bus", ("melody", "bass"), 132.5, 160)
    assert (part.bars, ear.mode) == ("3-4", "listen")
    whole = [row[0] for row in store.connection.execute("SELECT whole FROM passes ORDER BY id")]
    assert whole == [one.whole, other.whole, part.whole, ear.whole] == [1, 1, 0, 0]
    store.close()
    assert kept(path) == [one, other, part, ear]


def test_a_migrated_log_has_the_tables_of_a_new_one(path: Path, tmp_path: Path) -> None:
    by_hand(path, FIRST)
    new = tmp_path / "new.sqlite"
    Store.open(path, lambda message: None).close()
    Store.open(new, silent).close()

    def tables(of: Path) -> list[str]:
        return sorted(line for line in dump(of) if line.startswith("CREATE"))

    def columns(of: Path) -> list[tuple[object, ...]]:
        connection = sqlite3.connect(of)
        rows = connection.execute(
            "SELECT name, type, \"notnull\" FROM pragma_table_info('passes')"
        ).fetchall()
        connection.close()
        return rows

    assert columns(path) == columns(new)
    assert [line for line in tables(path) if " passes (" not in line or "INDEX" in line] == [
        line for line in tables(new) if " passes (" not in line or "INDEX" in line
    ]


@pytest.mark.parametrize("version", range(len(STEPS)))
def test_every_older_version_is_brought_up(path: Path, version: int) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    assert bring_up(connection, STEPS[:version]) == ((0, version) if version else (0, 0))
    connection.close()
    said: list[str] = []
    store = Store.open(path, said.append)
    assert store.passes() == []
    assert len(said) == (version > 0)
    store.close()


def test_the_step_that_tells_whole_passes_knows_the_same_modes_as_the_program() -> None:
    step = next(one for one in STEPS[1] if one.startswith("UPDATE"))
    assert {word for word in ASIDE if f"% {word} %" in step} == ASIDE


def test_a_step_that_fails_leaves_the_log_as_it_was(path: Path) -> None:
    by_hand(path, FIRST)
    before = dump(path)
    connection = sqlite3.connect(path, isolation_level=None)
    broken = [STEPS[0], ["ALTER TABLE passes ADD COLUMN more TEXT", "UPDATE nothing SET at_all = 1"]]
    with pytest.raises(sqlite3.OperationalError, match="nothing"):
        bring_up(connection, broken)
    assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    connection.close()
    assert dump(path) == before


def test_a_newer_log_is_refused_and_left_alone(path: Path) -> None:
    by_hand(path, FIRST.replace("user_version = 1", "user_version = 99"))
    before = path.read_bytes()
    for use in (Store.open, Store.look):
        with pytest.raises(LogError, match=r"newer introit \(version 99; this one knows up to \d+\)"):
            use(path, silent)
    assert path.read_bytes() == before
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


@pytest.mark.parametrize("mark", ["", f"PRAGMA application_id = {APPLICATION + 1}; PRAGMA user_version = 1;"])
def test_somebody_elses_file_is_refused_and_left_alone(path: Path, mark: str) -> None:
    by_hand(path, f"CREATE TABLE mine (x); {mark}")
    before = path.read_bytes()
    with pytest.raises(LogError, match="holds something else than a practice log"):
        Store.open(path, silent)
    assert path.read_bytes() == before


def test_two_that_bring_it_up_at_once_do_it_once(path: Path) -> None:
    by_hand(path, FIRST)

    class Slower(sqlite3.Connection):
        """Has looked at the version, and before it begins another process has done it all."""

        def execute(self, statement: str, *values: object) -> sqlite3.Cursor:
            if statement == "BEGIN IMMEDIATE":
                Store.open(path, lambda message: None).close()
            return super().execute(statement, *values)

    slower = sqlite3.connect(path, isolation_level=None, factory=Slower)
    assert bring_up(slower) == (VERSION, VERSION)
    slower.close()
    assert len(kept(path)) == 4
