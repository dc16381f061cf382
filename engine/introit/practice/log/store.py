"""The log's file: opened, checked, brought up to this version, written pass by pass.

SQLite with a rollback journal and `synchronous = EXTRA`: when `add` returns, the passes are on the disk and
stay there through a loss of power, since the journal's end is synced as well ("PRAGMA synchronous",
sqlite.org). A write-ahead log would save a sync that nobody waits for, and would leave passes in a second
file that a copy of the first forgets; it also asks for shared memory, which a home on a network lacks.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Final

from introit.library.content import HOME_VARIABLE, user_root
from introit.practice.log.opening import LogError, Say, in_memory, plain, sound
from introit.practice.log.played import Played
from introit.practice.log.rows import COLUMNS, INSERT, played_from, row_of
from introit.practice.log.schema import VERSION

NAME: Final = "practice.sqlite"


def log_path() -> Path:
    """The user's log; neither it nor its folder need exist."""
    return user_root() / NAME


class Store:
    """An open log. Errors are `LogError`, in one line; what was added before stays.

    Attributes:
        path: the file.
        connection: for those that look into it.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self.connection = connection

    @classmethod
    def open(cls, path: Path, say: Say, *, now: datetime | None = None) -> Store:
        """The log for writing; made, or brought up to this version, where need be.

        A damaged one is set aside under a name with the date, which is said, and a new one is begun. That it
        can be written is tried, so that a full disk shows now and not after the first pass.

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
        store = cls(path, sound(path, say, now, look=False))
        try:
            store.connection.execute(f"PRAGMA user_version = {VERSION}")
        except sqlite3.Error as error:
            store.close()
            raise LogError(f"the practice log {path} cannot be written: {plain(error)}") from error
        return store

    @classmethod
    def look(cls, path: Path, say: Say, *, now: datetime | None = None) -> Store:
        """The log for looking into it; where there is none, one without a pass, in memory.

        As `open`, but one that cannot be written is read all the same; if it is of an older version, a copy
        in memory is brought up.

        Raises:
            LogError: if it cannot be read, or was written by a newer introit.
        """
        return cls(path, sound(path, say, now, look=True) if path.exists() else in_memory())

    def add(self, passes: Sequence[Played], zone: tzinfo | None = None) -> None:
        """Writes passes; when it returns they are on the disk, all of them. After an error none is.

        Args:
            passes: in the order in which they were played.
            zone: on whose clock days are counted; None for the system's.
        """
        with self.writing() as connection:
            connection.executemany(INSERT, [row_of(one, zone) for one in passes])

    def take_in(self, passes: Sequence[Played]) -> int:
        """Writes those that are not there yet, on the days that they say themselves; how many those are.

        A pass is there if all of it is the same; of two that are the same, two must be there.
        """
        rows = [row_of(one, one.began.tzinfo) for one in sorted(passes, key=lambda one: one.began)]
        with self.writing() as connection:
            there = Counter(connection.execute(f"SELECT {', '.join(COLUMNS)} FROM passes"))
            new = []
            for row in rows:
                there[row] -= 1
                if there[row] < 0:
                    new.append(row)
            connection.executemany(INSERT, new)
        return len(new)

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
            raise LogError(f"the practice log {self.path} cannot be written: {plain(error)}") from error

    def passes(self) -> list[Played]:
        """Every pass, in the order of writing."""
        rows = self.connection.execute(f"SELECT {', '.join(COLUMNS)} FROM passes ORDER BY id")
        return [played_from(row) for row in rows]

    def close(self) -> None:
        """Closes the file."""
        self.connection.close()
