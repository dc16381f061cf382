"""What is said at the end of a practice."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from introit.cli.tally import Tally, farewell
from introit.practice.log import Played
from introit.theory.key import Key, Mode, keys

BEGAN = datetime(2026, 12, 1, 19, 30, tzinfo=UTC)


def played(key: str = "C", *, seconds: float = 24.0, clean: bool | None = None) -> Played:
    return Played(BEGAN, seconds, intro="sketch", key=Key.from_text(key), tempo=120.0, clean=clean)


@pytest.mark.parametrize(
    ("passes", "line"),
    [
        ([], ""),
        ([played()], "1 pass, under a minute, in C"),
        (
            [played(clean=True), played("F", clean=False), played("F", seconds=60, clean=True)],
            "3 passes, 2 clean, 2 minutes of playing, in C F",
        ),
        ([played("G minor", seconds=61)], "1 pass, 1 minute of playing, in G minor"),
    ],
)
def test_how_much_was_practised(passes: list[Played], line: str) -> None:
    tally = Tally()
    for one in passes:
        tally.add(one)
    assert tally.line(kept=False) == line
    assert tally.line(kept=True) == (f"{line}; `introit log` has them" if line else "")


def test_many_keys_are_counted() -> None:
    tally = Tally()
    for mode in Mode:
        for key in keys(mode):
            tally.add(played(str(key)))
    assert tally.line(kept=False).endswith("in C Db D Eb E F Gb G Ab A Bb B and 12 more")


def test_why_it_ended_is_said_in_words() -> None:
    assert farewell("SIGINT") == "all notes off (q or Ctrl-C)"
    assert farewell("the practice is over") == "all notes off (the practice is over)"
