"""The tables of the log, and how one of an older version becomes one of this.

`user_version` in the file says which version it is. A step is added for every change, and none is ever
altered; each runs in the transaction that also raises the version, so a file is of one version or the next.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Final

from introit.errors import IntroitError

APPLICATION: Final = 0x496E7472
"""Marks the file as ours: `Intr`."""

STEPS: Final[Sequence[Sequence[str]]] = (
    (
        """CREATE TABLE passes (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            began INTEGER NOT NULL,   -- milliseconds since 1970, UTC
            offset INTEGER NOT NULL,  -- minutes that the wall's clock was ahead of UTC
            day INTEGER NOT NULL,     -- days since 1970 on the wall
            seconds REAL NOT NULL,
            intro TEXT NOT NULL,
            tune TEXT NOT NULL,
            key TEXT NOT NULL,
            tempo REAL NOT NULL,
            hidden TEXT NOT NULL,     -- parts, with a space between
            clean INTEGER,
            mode TEXT NOT NULL,
            goal REAL,
            bars TEXT NOT NULL
        )""",
        "CREATE INDEX passes_by_day ON passes (day, seconds, clean)",
        "CREATE INDEX passes_by_key ON passes (intro, key, day, tempo, clean, bars, mode)",
    ),
    (
        # 1 where all of the intro was played, as it is: see `Played.whole`
        "ALTER TABLE passes ADD COLUMN whole INTEGER NOT NULL DEFAULT 1",
        """UPDATE passes SET whole = 0 WHERE bars <> ''
            OR ' ' || mode || ' ' LIKE '% listen %' OR ' ' || mode || ' ' LIKE '% build %'""",
        "DROP INDEX passes_by_key",
        "CREATE INDEX passes_by_key ON passes (whole, intro, key, day, tempo, clean)",
        """CREATE INDEX passes_by_tune ON passes (tune, intro, key, tempo, day)
            WHERE whole = 1 AND clean = 1""",
        # What is remembered of an intro in a key, reckoned from the passes up to `settled.upto`; see `due`.
        """CREATE TABLE cards (
            intro TEXT NOT NULL,
            key TEXT NOT NULL,
            day INTEGER NOT NULL,     -- of the last review
            stability REAL NOT NULL,
            difficulty REAL NOT NULL,
            due INTEGER NOT NULL,     -- day
            PRIMARY KEY (intro, key)
        ) WITHOUT ROWID""",
        "CREATE TABLE settled (upto INTEGER NOT NULL, by TEXT NOT NULL)",
    ),
)
"""From version n to n + 1 by STEPS[n]; version 0 is a file with nothing in it."""

VERSION: Final = len(STEPS)


class NewerError(IntroitError):
    """The log was written by a newer introit."""


class ForeignError(IntroitError):
    """The file holds something else than a practice log."""


def version_of(connection: sqlite3.Connection) -> int:
    """The version of a file; 0 for one with nothing in it.

    Raises:
        ForeignError: if there are tables of somebody else in it.
        sqlite3.Error: if it cannot be read.
    """
    version = _number(connection, "PRAGMA user_version")
    application = _number(connection, "PRAGMA application_id")
    tables = _number(connection, "SELECT count(*) FROM sqlite_master")
    if application != APPLICATION and (version or tables):
        raise ForeignError("it holds something else than a practice log; it was left alone")
    return version


def bring_up(connection: sqlite3.Connection, steps: Sequence[Sequence[str]] = STEPS) -> tuple[int, int]:
    """Makes an empty or an older file one of this version, in one transaction.

    Returns:
        The version it had, and the one it has.

    Raises:
        NewerError: if it is of a later version; nothing is changed.
        ForeignError: if it is somebody else's; nothing is changed.
        sqlite3.Error: if it cannot be read or written; nothing is changed.
    """
    if (version := _checked(connection, len(steps))) == len(steps):
        return version, version
    connection.execute("BEGIN IMMEDIATE")
    try:
        version = _checked(connection, len(steps))  # another process may have been faster
        for step in steps[version:]:
            for statement in step:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
        connection.execute(f"PRAGMA user_version = {len(steps)}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    return version, len(steps)


def _checked(connection: sqlite3.Connection, known: int) -> int:
    version = version_of(connection)
    if version > known:
        raise NewerError(
            f"it was written by a newer introit (version {version}; this one knows up to {known}); "
            "it was left alone"
        )
    return version


def _number(connection: sqlite3.Connection, question: str) -> int:
    return int(connection.execute(question).fetchone()[0])
