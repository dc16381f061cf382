"""Opening a log's file: checked, brought up to this version; a damaged one gives way to a new one."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Final

from introit.errors import IntroitError
from introit.practice.log.rescue import readable, set_aside
from introit.practice.log.rows import INSERT, row_of
from introit.practice.log.schema import ForeignError, NewerError, bring_up

WAIT_SECONDS: Final = 4.0
"""How long another process that writes is waited for."""
_DAMAGED = {"SQLITE_CORRUPT", "SQLITE_NOTADB"}
_NOT_WRITABLE = {"SQLITE_READONLY", "SQLITE_CANTOPEN"}
_REASONS: dict[str, str] = {
    "SQLITE_FULL": "the disk is full",
    "SQLITE_READONLY": "it, or its folder, cannot be written to",
    "SQLITE_CANTOPEN": "it cannot be opened here",
    "SQLITE_IOERR": "the disk fails",
    "SQLITE_BUSY": "another process keeps it busy",
    "SQLITE_CORRUPT": "it is damaged",
    "SQLITE_NOTADB": "it is damaged",
    "SQLITE_PERM": "it may not be opened",
}

Say = Callable[[str], None]


class LogError(IntroitError):
    """The practice log cannot be read or written; says which and why."""


def error_name(error: sqlite3.Error) -> str:
    """SQLite's primary name for what went wrong, such as `SQLITE_FULL`; empty where it gives none."""
    name = getattr(error, "sqlite_errorname", "") or ""
    return next((known for known in _REASONS if name == known or name.startswith(f"{known}_")), name)


def plain(error: sqlite3.Error) -> str:
    """What went wrong, in a player's words."""
    return _REASONS.get(error_name(error), str(error))


def sound(path: Path, say: Say, now: datetime | None, *, look: bool) -> sqlite3.Connection:
    """A connection to a log that is sound and of this version; a damaged one is set aside first.

    Raises:
        LogError: if it cannot be had.
    """
    try:
        try:
            return _opened(path, say, look=look)
        except sqlite3.Error as error:
            if error_name(error) not in _DAMAGED:
                raise
        return _begun_anew(path, say, now or datetime.now(), look=look)
    except (NewerError, ForeignError) as error:
        raise LogError(f"the practice log {path} cannot be used: {error}") from error
    except sqlite3.Error as error:
        done = "read" if look else "written"
        raise LogError(f"the practice log {path} cannot be {done}: {plain(error)}") from error


def _begun_anew(path: Path, say: Say, now: datetime, *, look: bool) -> sqlite3.Connection:
    """Sets a damaged log aside, begins a new one with what can still be read of it, and says so.

    Raises:
        LogError: if it cannot be set aside.
        sqlite3.Error: if no new one can be begun.
    """
    with contextlib.suppress(sqlite3.Error):
        return _opened(path, say, look=look)  # another process has just done all this
    try:
        aside = set_aside(path, now)
    except OSError as error:
        reason = error.strerror or error
        raise LogError(f"the practice log {path} is damaged and cannot be set aside: {reason}") from error
    saved = readable(aside)
    connection = _opened(path, say, look=look)
    connection.execute("BEGIN IMMEDIATE")
    connection.executemany(INSERT, [row_of(one, one.began.tzinfo) for one in saved])
    connection.execute("COMMIT")
    told = f"the practice log {path} was damaged: it is set aside as {aside.name}, and a new one is begun"
    say(f"{told}, with {len(saved)} of its passes" if saved else f"{told}; nothing of it could be read")
    return connection


def _opened(path: Path, say: Say, *, look: bool) -> sqlite3.Connection:
    """A connection to a sound log of this version.

    Raises:
        sqlite3.Error: if it cannot be had.
        NewerError: if it was written by a newer introit.
        ForeignError: if it is somebody else's.
    """
    connection = sqlite3.connect(path, timeout=WAIT_SECONDS, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA synchronous = EXTRA")
        _check(connection)
        try:
            before, now = bring_up(connection)
        except sqlite3.OperationalError as error:
            if not look or error_name(error) not in _NOT_WRITABLE:
                raise
            return in_memory(connection)
    except BaseException:
        connection.close()
        raise
    if 0 < before < now:
        say(f"the practice log was brought from version {before} to {now}; every pass was kept")
    return connection


def in_memory(of: sqlite3.Connection | None = None) -> sqlite3.Connection:
    """A log of this version in memory: a copy of another, which is closed, or one without a pass."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    if of is not None:
        with contextlib.closing(of):
            of.backup(connection)
    bring_up(connection)
    return connection


def _check(connection: sqlite3.Connection) -> None:
    """Looks through the whole file; raises sqlite3.DatabaseError if it is damaged."""
    found = connection.execute("PRAGMA quick_check(1)").fetchone()
    if found is None or found[0] != "ok":
        error = sqlite3.DatabaseError(str(found and found[0]))
        error.sqlite_errorname = "SQLITE_CORRUPT"
        raise error
