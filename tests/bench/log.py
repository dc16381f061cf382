"""The practice log with 100,000 passes: how long each view takes, and what keeping a pass costs.

    python tests/bench/log.py [--short] [--json FILE]

Beside each view the same is reckoned by plain Python from the same passes in a CSV file, reading included. A
view is asked for as `introit log` asks for it, from a file that was just opened; the whole command is a
process of its own, its imports and the library included. `cpu ms` is this process's own time, which what else
the machine does disturbs less. What is due is reckoned once for the past and then kept: that first time
stands in a row of its own, beside the package `fsrs` fed with the same reviews and nothing else.

Keeping a pass: until `add` returns, when it is synced; beside it the same bytes appended to a file and
synced. The disk is the one that holds the system's temporary folder.
"""

from __future__ import annotations

import csv
import os
import random
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import fsrs
from _figures import Table, options, spread

from introit.cli.content import open_library
from introit.cli.log_facts import facts
from introit.library.content import HOME_VARIABLE
from introit.library.goals import Goal
from introit.library.model import SetList
from introit.practice.log.due import Review, due, rating
from introit.practice.log.homework import homework
from introit.practice.log.played import Played
from introit.practice.log.store import NAME, Store
from introit.practice.log.table import from_csv, to_csv
from introit.practice.log.views import Which, by_day, in_keys, rested, same_key, week_before
from introit.theory.key import Mode, keys

FIRST = date(2024, 1, 1)
A_DAY = 100
TIMES = 9
EVERY = (*keys(Mode.MAJOR), *keys(Mode.MINOR))


def invented(number: int) -> list[Played]:
    """So many passes, a hundred an evening, of sixty intros in all keys."""
    dice = random.Random(1)
    passes = []
    for n in range(number):
        evening, place = divmod(n, A_DAY)
        began = datetime(FIRST.year, FIRST.month, FIRST.day, 18, tzinfo=UTC) + timedelta(
            days=evening, seconds=40 * place
        )
        passes.append(
            Played(
                began=began,
                seconds=20 + 15 * dice.random(),
                intro=f"intro-{dice.randrange(60)}",
                key=dice.choice(EVERY),
                tempo=float(dice.randrange(60, 240, 4)),
                tune=dice.choice(["", "a-tune", "another-tune"]),
                hidden=dice.choice([(), ("melody",), ("melody", "bass")]),
                clean=dice.choice([True, False, None]),
                mode=dice.choice(["loop", "keys climb", "listen"]),
                goal=dice.choice([None, 180.0]),
            )
        )
    return passes


def timed(ask: Callable[[], Any], times: int = TIMES) -> dict[str, float]:
    """Milliseconds that it takes at the middle, at worst, and of this process's own time; warm."""
    took, used = [], []
    for _ in range(times):
        began, processor = time.perf_counter(), time.process_time()
        ask()
        took.append((time.perf_counter() - began) * 1e3)
        used.append((time.process_time() - processor) * 1e3)
    middle = len(took) // 2
    return {
        "ms": round(sorted(took)[middle], 1),
        "worst ms": round(max(took), 1),
        "cpu ms": round(sorted(used)[middle], 1),
    }


def rows(table: Path) -> list[dict[str, str]]:
    """The same passes as a program would read them that has no database."""
    with table.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def week_by_hand(table: Path, first: date) -> dict[str, list[float]]:
    """Seconds, passes and clean ones of each day."""
    sums: dict[str, list[float]] = defaultdict(lambda: [0.0, 0, 0])
    for row in rows(table):
        if row["began"][:10] >= str(first):
            day = sums[row["began"][:10]]
            day[0] += float(row["seconds"])
            day[1] += 1
            day[2] += row["clean"] == "yes"
    return sums


def keys_by_hand(table: Path) -> dict[tuple[str, str], list[Any]]:
    """Passes, tempi and the last day of each intro in each key."""
    sums: dict[tuple[str, str], list[Any]] = {}
    for row in rows(table):
        if row["bars"] or "listen" in row["mode"]:
            continue
        tempo, clean = float(row["tempo"]), row["clean"] == "yes"
        found = sums.setdefault((row["intro"], row["key"]), [0, tempo, tempo, 0.0, ""])
        found[0] += 1
        found[1] = min(found[1], tempo)
        found[2] = max(found[2], tempo)
        found[3] = max(found[3], tempo if clean else 0.0)
        found[4] = max(found[4], row["began"][:10])
    return sums


def homework_by_hand(table: Path, tune: str, tempo: float) -> dict[str, int]:
    """Clean passes of a tune at a tempo or faster, by key."""
    sums: dict[str, int] = defaultdict(int)
    for row in rows(table):
        if row["tune"] == tune and row["clean"] == "yes" and float(row["tempo"]) >= tempo:
            sums[row["key"]] += 1
    return sums


def fsrs_alone(passes: list[Played]) -> int:
    """The package fed with a review for each day of each card; how many cards there are."""
    scheduler = fsrs.Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
    days: dict[tuple[str, str, date], list[Review]] = defaultdict(list)
    for one in passes:
        if one.whole:
            key = str(same_key(str(one.key)))
            days[one.intro, key, one.day].append(Review(one.clean, one.tempo, one.goal))
    cards: dict[tuple[str, str], fsrs.Card] = {}
    for (intro, key, day), of_day in days.items():
        when = datetime(day.year, day.month, day.day, tzinfo=UTC)
        card = cards.get((intro, key)) or fsrs.Card(card_id=1)
        cards[intro, key], _ = scheduler.review_card(card, fsrs.Rating(rating(of_day)), when)
    return len(cards)


def add_views(table: Table, home: Path, passes: list[Played], today: date) -> None:
    """Each view of the log, and the same by hand."""
    log, sheet = home / NAME, home / "log.csv"
    library = open_library(quiet=True)
    work = SetList(
        "lesson", "Lesson", tuple(list(library.tunes.values())[:1]), None, (Goal(EVERY[:12], 120.0, 5),)
    )

    def asked(what: Callable[[Store], object]) -> Callable[[], object]:
        def ask() -> object:
            store = Store.look(log, print)
            try:
                return what(store)
            finally:
                store.close()

        return ask

    def view(name: str, what: Callable[[Store], object], by_hand: Callable[[], object] | None = None) -> None:
        beside = {} if by_hand is None else {"ms by hand from CSV": timed(by_hand, 3)["ms"]}
        table.add(name, **timed(asked(what)), **beside)

    first = week_before(today)
    view("opened, looked through and closed", lambda store: None)
    began = time.perf_counter()
    cards = asked(lambda store: len(due(store.connection, today)))()
    took = (time.perf_counter() - began) * 1e3
    began = time.perf_counter()
    assert fsrs_alone(passes) == cards
    alone = (time.perf_counter() - began) * 1e3
    table.add(
        "due, reckoned for the first time",
        ms=round(took, 1),
        cards=cards,
        **{"ms fsrs alone": round(alone, 1)},
    )
    view("due, from then on", lambda store: due(store.connection, today))
    view(
        "the week",
        lambda store: by_day(store.connection, Which(), first=first, last=today),
        lambda: week_by_hand(sheet, first),
    )
    view(
        "tempo by key, keys visited, longest unpractised",
        lambda store: rested(in_keys(store.connection, Which())),
        lambda: keys_by_hand(sheet),
    )
    view(
        "the same since a day a year ago",
        lambda store: in_keys(store.connection, Which(since=today - timedelta(days=365))),
    )
    view(
        "homework of a tune in twelve keys",
        lambda store: homework(store.connection, work),
        lambda: homework_by_hand(sheet, "a-tune", 120.0),
    )
    view(
        "everything that `introit log` shows", lambda store: facts(store.connection, Which(), today, library)
    )
    environ = {**os.environ, HOME_VARIABLE: str(home)}
    command = [sys.executable, "-m", "introit", "log"]
    whole = timed(lambda: subprocess.run(command, env=environ, capture_output=True, check=True), 5)
    del whole["cpu ms"]  # it is another process's
    empty = {**environ, HOME_VARIABLE: str(home / "empty")}
    (home / "empty").mkdir()
    alone_ms = timed(lambda: subprocess.run(command, env=empty, capture_output=True, check=True), 5)["ms"]
    table.add("the command `introit log`", **whole, **{"ms with an empty log": alone_ms})


def add_keeping(table: Table, home: Path, passes: list[Played], number: int) -> None:
    """A pass at a time, each synced before the next."""
    store = Store.open(home / NAME, print)
    took = []
    for one in passes[:number]:
        began = time.perf_counter()
        store.add([one])
        took.append((time.perf_counter() - began) * 1e3)
    store.close()
    plain = []
    with (home / "plain").open("ab", buffering=0) as file:
        for line in list(to_csv(passes[:number]))[1:]:
            began = time.perf_counter()
            file.write(line.encode())
            os.fsync(file.fileno())
            plain.append((time.perf_counter() - began) * 1e3)
    table.add("a pass kept", passes=number, **spread(took, "ms"))
    table.add("  the same bytes appended and synced", passes=number, **spread(plain, "ms"))


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    chosen = options(__doc__ or "", short="10,000 passes in place of 100,000")
    number = 10_000 if chosen.short else 100_000
    table = Table("log")
    passes = invented(number)
    today = passes[-1].day
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        began = time.perf_counter()
        store = Store.open(home / NAME, print)
        store.add(passes, UTC)
        store.close()
        size = (home / NAME).stat().st_size / 1e6
        table.add(
            "so many passes at once",
            passes=number,
            MB=round(size, 1),
            s=round(time.perf_counter() - began, 2),
        )
        lines = "".join(to_csv(passes))
        (home / "log.csv").write_text(lines, encoding="utf-8", newline="")
        table.add("a table written", **timed(lambda: "".join(to_csv(passes)), 1))
        table.add("a table read", **timed(lambda: from_csv(lines), 1))
        add_views(table, home, passes, today)
        add_keeping(table, home, passes, 20 if chosen.short else 200)
    table.write(chosen.json)


if __name__ == "__main__":
    main()
