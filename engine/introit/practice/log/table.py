"""The log as a table of text (CSV, RFC 4180): every pass a line, every line a pass again."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from typing import Any, Final

from introit.errors import NotationError, UsageError, did_you_mean
from introit.practice.log.played import Played
from introit.theory.key import Key
from introit.units import TEMPO_MAX, TEMPO_MIN

COLUMNS: Final = (
    "began", "seconds", "intro", "tune", "key", "tempo", "hidden", "clean", "mode", "goal", "bars",
)  # fmt: skip
_CLEAN = {"": None, "yes": True, "no": False}
_WORDS = {answer: word for word, answer in _CLEAN.items()}
_ID = re.compile(r"[^\x00-\x1f\x7f]{0,200}")


def to_csv(passes: Iterable[Played]) -> Iterator[str]:
    """The table, line by line, its head first; each line ends as RFC 4180 has it."""
    yield _line(COLUMNS)
    for one in passes:
        began = one.began.isoformat(timespec="milliseconds")
        hidden, clean = " ".join(one.hidden), _WORDS[one.clean]
        cells = (began, one.seconds, one.intro, one.tune, one.key, one.tempo, hidden, clean, one.mode)
        yield _line((*cells, one.goal, one.bars))


def from_csv(text: str) -> list[Played]:
    """The passes of a table; its columns may stand in any order, and others beside them are left out.

    Raises:
        UsageError: with the line and the column of the first mistake, and what is allowed there.
    """
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True)
    try:
        head = next(reader, [])
        missing = [name for name in COLUMNS if name not in head]
        if missing:
            near = did_you_mean(missing[0], [name for name in head if name not in COLUMNS])
            raise UsageError(f"line 1: there is no column {missing[0]!r}. {near}".rstrip())
        return [_pass(dict(zip(head, row, strict=False)), reader.line_num) for row in reader if row]
    except csv.Error as error:
        raise UsageError(f"line {reader.line_num}: this is no table: {error}") from error


def _pass(row: dict[str, str], line: int) -> Played:
    def read(name: str, reader: Callable[[str], Any], needed: str) -> Any:
        try:
            return reader(row[name])
        except KeyError:
            raise UsageError(f"line {line}: it ends before the column {name!r}") from None
        except (ValueError, OverflowError):
            raise UsageError(f"line {line}, {name}: {row[name]!r} is given; needed is {needed}") from None
        except NotationError as error:
            raise UsageError(f"line {line}, {name}: {error}") from error

    tempo = f"a tempo from {TEMPO_MIN} to {TEMPO_MAX}"
    return Played(
        began=read("began", _when, "a date and time with its zone, such as 2026-12-01T18:30:00+01:00"),
        seconds=read("seconds", _seconds, "seconds, such as 12.5"),
        intro=read("intro", _id, "an intro's id"),
        tune=read("tune", _id, "a tune's id, or nothing"),
        key=read("key", Key.from_text, "a key"),
        tempo=read("tempo", _tempo, tempo),
        hidden=tuple(read("hidden", _id, "parts with a space between, or nothing").split()),
        clean=read("clean", _clean, "yes, no or nothing"),
        mode=read("mode", _id, "a word or more"),
        goal=read("goal", lambda given: _tempo(given) if given else None, f"{tempo}, or nothing"),
        bars=read("bars", _id, "a passage such as 3-4, or nothing"),
    )


def _when(given: str) -> datetime:
    when = datetime.fromisoformat(given.strip())
    if when.tzinfo is None or not 1970 <= when.year < 9000:
        raise ValueError(given)
    return when


def _seconds(given: str) -> float:
    number = float(given)
    if not math.isfinite(number) or number < 0:
        raise ValueError(given)
    return number


def _tempo(given: str) -> float:
    number = float(given)
    if not TEMPO_MIN <= number <= TEMPO_MAX:
        raise ValueError(given)
    return number


def _clean(given: str) -> bool | None:
    if given not in _CLEAN:
        raise ValueError(given)
    return _CLEAN[given]


def _id(given: str) -> str:
    if not _ID.fullmatch(given):
        raise ValueError(given)
    return given


def _line(cells: Iterable[object]) -> str:
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\r\n").writerow(cells)
    return text.getvalue()
