"""A damaged log: set aside under another name, and read as far as it goes."""

from __future__ import annotations

import contextlib
import itertools
import sqlite3
from datetime import datetime
from pathlib import Path

from introit.errors import IntroitError
from introit.practice.log.played import Played
from introit.practice.log.rows import COLUMNS, played_from

_JOURNAL = "-journal"


def set_aside(path: Path, now: datetime) -> Path:
    """Renames a log, and its journal, after the date; nothing that is there is replaced.

    Returns:
        The new path.

    Raises:
        OSError: if it cannot be renamed.
    """
    stamp = f"{path.stem}-damaged-{now:%Y-%m-%d}"
    names = (stamp if number == 1 else f"{stamp}-{number}" for number in itertools.count(1))
    aside = next(aside for name in names if not (aside := path.with_name(name + path.suffix)).exists())
    path.rename(aside)
    with contextlib.suppress(FileNotFoundError):
        path.with_name(path.name + _JOURNAL).rename(aside.with_name(aside.name + _JOURNAL))
    return aside


def readable(path: Path) -> list[Played]:
    """Every pass that can still be read from a damaged log, from its beginning and from its end."""
    rows: dict[int, Played] = {}
    columns = ", ".join(COLUMNS[:-1])  # those of every version
    for order in ("ASC", "DESC"):
        with contextlib.suppress(sqlite3.Error), contextlib.closing(_reading(path)) as connection:
            found = connection.execute(f"SELECT id, {columns} FROM passes NOT INDEXED ORDER BY id {order}")
            for number, *row in found:
                with contextlib.suppress(ValueError, TypeError, OverflowError, AttributeError, IntroitError):
                    rows.setdefault(number, played_from([*row, None]))
    return [rows[number] for number in sorted(rows)]


def _reading(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
