"""The log's file: opened, checked, brought up to this version, written pass by pass.

SQLite with a rollback journal and `synchronous = EXTRA`: when `add` returns, the passes are on the disk and
stay there through a loss of power, since the journal's end is synced as well ("PRAGMA synchronous",
sqlite.org). A write-ahead log would save a sync that nobody waits for, and would leave passes in a second
file that a copy of the first forgets; it also asks for shared memory, which a home on a network lacks.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any, Final, NamedTuple

from introit.errors import IntroitError
from introit.library.content import HOME_VARIABLE, user_root
from introit.practice.log.played import Played, at_home, day_number, instant, milliseconds, offset_minutes
from introit.practice.log.schema import ForeignError, NewerError, bring_up
from introit.theory.key import Key

NAME: Final = "practice.sqlite"
WAIT_SECONDS: Final = 4.0
"""How long another process that writes is waited for."""
COLUMNS: Final = (
    "began", "offset", "day", "seconds", "intro", "tune", "key", "tempo", "hidden", "clean", "mode", "goal",
    "bars",
)  # fmt: skip
_PLACES = ", ".join("?" * len(COLUMNS))
_INSERT = f"INSERT INTO passes ({', '.join(COLUMNS)}) VALUES ({_PLACES})"
_JOURNAL = "-journal"
_DAMAGED = {"SQLITE_CORRUPT", "SQLITE_NOTADB"}


class LogError(IntroitError):
    """The practice log cannot be read or written; says which and why."""


class _Found(NamedTuple):
    """Which file it was that had a fault."""

    device: int
    inode: int


def log_path() -> Path:
    """The user's log; neither it nor its folder need exist."""
    return user_root() / NAME


class Store:
    """An open log. Errors are `LogError`, in one line; what was added before stays.

    Attributes:
        path: the file.
        connection: for those that look into it.
        writable: whether passes can be added.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection, *, writable: bool) -> None:
        self.path = path
        self.connection = connection
        self.writable = writable

    @classmethod
    def open(cls, path: Path, say: Callable[[str], None], *, now: datetime | None = None) -> Store:
        """The log for writing; made, or brought up to this version, where need be.

        A damaged one is set aside under a name with the date, which is said, and a new one is begun.

        Args:
            path: the file; its folder is made.
            say: told in one line what was done.
            now: the date for what is set aside; None for the system's.

        Raises:
            LogError: if it cannot be opened or written, or was written by a newer introit.
        """
        try:
            # A user's own folder that is not there stays so: its name may be a slip.
            path.parent.mkdir(parents=not os.environ.get(HOME_VARIABLE), exist_ok=True)
        except OSError as error:
            raise LogError(f"the practice log {path} cannot be made: {error.strerror or error}") from error
        try:
            return cls(path, _opened(path, say), writable=True)
        except sqlite3.Error as error:
            if error_name(error) not in _DAMAGED:
                raise LogError(f"the practice log {path} cannot be written: {_plain(error)}") from error
        set_aside(path, say, now=now)
        try:
            return cls(path, _opened(path, say), writable=True)
        except sqlite3.Error as error:
            raise LogError(f"the practice log {path} cannot be written: {_plain(error)}") from error

    def add(self, passes: Sequence[Played], zone: tzinfo | None = None) -> None:
        """Writes passes; when it returns they are on the disk, all of them. After an error none is.

        Args:
            passes: in the order in which they were played.
            zone: on whose clock days are counted; None for the system's.
        """
        with self.writing() as connection:
            connection.executemany(_INSERT, [row_of(one, zone) for one in passes])

    @contextlib.contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """A transaction, committed at the end; an error undoes it and is a `LogError`."""
        try:
            self.connection.execute("BEGIN IMMEDIATE")
            yield self.connection
            self.connection.execute("COMMIT")
        except sqlite3.Error as error:
            with contextlib.suppress(sqlite3.Error):
                self.connection.execute("ROLLBACK")
            raise LogError(f"{self.path}: {_plain(error)}") from error

    def passes(self) -> list[Played]:
        """Every pass, in the order of writing."""
        rows = self.connection.execute(f"SELECT {', '.join(COLUMNS)} FROM passes ORDER BY id")
        return [played_from(row) for row in rows]

    def close(self) -> None:
        """Closes the file."""
        self.connection.close()


def row_of(played: Played, zone: tzinfo | None = None) -> tuple[object, ...]:
    """A pass as the table has it, its day on the clock of a zone; see `Store.add`."""
    began = at_home(played.began, zone)
    return (
        milliseconds(began), offset_minutes(began), day_number(began.date()), played.seconds, played.intro,
        played.tune, str(played.key), played.tempo, " ".join(played.hidden), played.clean, played.mode,
        played.goal, played.bars,
    )  # fmt: skip


def played_from(row: Sequence[Any]) -> Played:
    """A pass from a row of the table, in the order of `COLUMNS`."""
    began, offset, _, seconds, intro, tune, key, tempo, hidden, clean, mode, goal, bars = row
    return Played(
        began=instant(began, offset),
        seconds=seconds,
        intro=intro,
        tune=tune,
        key=Key.from_text(key),
        tempo=tempo,
        hidden=tuple(hidden.split()),
        clean=None if clean is None else bool(clean),
        mode=mode,
        goal=goal,
        bars=bars,
    )


def set_aside(path: Path, say: Callable[[str], None], *, now: datetime | None = None) -> None:
    """Renames a damaged log, with its journal, so that nothing of it is lost, and says so.

    Raises:
        LogError: if it cannot be renamed.
    """
    stamp = f"{path.stem}-damaged-{now or datetime.now():%Y-%m-%d}"
    names = (stamp if number == 1 else f"{stamp}-{number}" for number in itertools.count(1))
    aside = next(aside for name in names if not (aside := path.with_name(name + path.suffix)).exists())
    try:
        path.rename(aside)
        journal = path.with_name(path.name + _JOURNAL)
        with contextlib.suppress(FileNotFoundError):
            journal.rename(aside.with_name(aside.name + _JOURNAL))
    except OSError as error:
        reason = error.strerror or error
        raise LogError(f"the practice log {path} is damaged and cannot be set aside: {reason}") from error
    say(f"the practice log {path} is damaged: it was set aside as {aside.name}, and a new one is begun")


def error_name(error: sqlite3.Error) -> str:
    """SQLite's primary name for what went wrong, such as `SQLITE_FULL`; empty where it gives none."""
    name = getattr(error, "sqlite_errorname", "") or ""
    return next((known for known in _REASONS if name == known or name.startswith(f"{known}_")), name)


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


def _plain(error: sqlite3.Error) -> str:
    return _REASONS.get(error_name(error), str(error))


def _opened(path: Path, say: Callable[[str], None]) -> sqlite3.Connection:
    """A connection to a sound log of this version.

    Raises:
        sqlite3.Error: if it cannot be had.
        LogError: if it is none that may be written.
    """
    connection = sqlite3.connect(path, timeout=WAIT_SECONDS, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA synchronous = EXTRA")
        check(connection)
        before, now = bring_up(connection)
    except (NewerError, ForeignError) as error:
        connection.close()
        raise LogError(f"the practice log {path} cannot be used: {error}") from error
    except BaseException:
        connection.close()
        raise
    if 0 < before < now:
        say(f"the practice log was brought from version {before} to {now}; every pass was kept")
    return connection


def check(connection: sqlite3.Connection) -> None:
    """Looks through the whole file.

    Raises:
        sqlite3.DatabaseError: if it is damaged.
    """
    found = connection.execute("PRAGMA quick_check(1)").fetchone()
    if found is None or found[0] != "ok":
        error = sqlite3.DatabaseError(str(found and found[0]))
        error.sqlite_errorname = "SQLITE_CORRUPT"
        raise error
