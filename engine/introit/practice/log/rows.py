"""A pass as a row of the table, and back. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from functools import cache
from typing import Any, Final

from introit.practice.log.played import Played, at_home, day_number, instant, milliseconds, offset_minutes
from introit.theory.key import Key

COLUMNS: Final = (
    "began", "offset", "day", "seconds", "intro", "tune", "key", "tempo", "hidden", "clean", "mode", "goal",
    "bars", "whole",
)  # fmt: skip
INSERT: Final = f"INSERT INTO passes ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"


def row_of(played: Played, zone: tzinfo | None = None) -> tuple[object, ...]:
    """A pass as the table has it, its day on the clock of a zone; see `Store.add`."""
    began = at_home(played.began, zone)
    return (
        milliseconds(began), offset_minutes(began), day_number(began.date()), played.seconds, played.intro,
        played.tune, str(played.key), played.tempo, " ".join(played.hidden), played.clean, played.mode,
        played.goal, played.bars, played.whole,
    )  # fmt: skip


_key = cache(Key.from_text)


def played_from(row: Sequence[Any]) -> Played:
    """A pass from a row of the table, in the order of `COLUMNS`."""
    began, offset, _, seconds, intro, tune, key, tempo, hidden, clean, mode, goal, bars, _ = row
    return Played(
        began=instant(began, offset),
        seconds=seconds,
        intro=intro,
        tune=tune,
        key=_key(key),
        tempo=tempo,
        hidden=tuple(hidden.split()),
        clean=None if clean is None else bool(clean),
        mode=mode,
        goal=goal,
        bars=bars,
    )
