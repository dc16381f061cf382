"""What is due again, by FSRS: a published algorithm for spaced repetition, through the package `fsrs`.

An intro in a key is a card. All that was played of it on one day makes one review, since FSRS asks what was
remembered after days, and a key is played many times in a sitting. Only whole passes count, and a day's
rating is

    Good    the first pass of which anything was said was clean, and one was clean at the tempo aimed at
            (at any tempo where none was aimed at);
    Hard    the first was not clean but a later one was; or none of the clean ones was fast enough; or
            nothing was said at all: it was played, and nobody knows how it went;
    Again   something was said, and nothing was clean.

`Easy` is never given: a foot says no such thing. The scheduler has no steps of minutes, so what is due is due
on a day, and throws no dice. Its parameters are the published ones.

Cards are kept in the file with the last pass that is in them (`settled`), up to yesterday; they can always be
reckoned anew from the passes, and are where another `fsrs` or another rule made them.
"""

from __future__ import annotations

import importlib.metadata
import itertools
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING, NamedTuple

from introit.errors import IntroitError
from introit.practice.log.played import EPOCH, day_from, day_number
from introit.practice.log.views import same_key
from introit.theory.key import Key

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

RULE = 1
"""Raised when a day's rating is found another way."""
AGAIN, HARD, GOOD = 1, 2, 3
"""FSRS's own numbers for ratings."""
_PASSES = (
    "SELECT intro, key, day, id, clean, tempo, goal FROM passes WHERE whole = 1 AND id > ? ORDER BY day, id"
)


class NoFsrsError(IntroitError):
    """The package that knows what is due is not installed."""

    def __init__(self) -> None:
        super().__init__("what is due again is told by the package fsrs: pip install '.[practice]' brings it")


@dataclass(frozen=True, slots=True)
class Due:
    """An intro in a key, and when it should be played again.

    Attributes:
        intro: its id.
        key: the key, as `views.same_key` names it.
        last: the last day on which it was played.
        due: the day.
        remembered: how sure FSRS is today that it would be clean, 0 to 1.
    """

    intro: str
    key: Key
    last: date
    due: date
    remembered: float


class Review(NamedTuple):
    """One pass, as far as a rating needs it."""

    clean: bool | None
    tempo: float
    goal: float | None = None


class _Kept(NamedTuple):
    """A card as the file has it; days are counted from 1970."""

    day: int
    stability: float
    difficulty: float
    due: int


_At = tuple[str, str]
"""Intro and key."""


@dataclass(slots=True)
class _DayOf:
    """What was played of a card on a day, with the numbers of its first and its last pass."""

    day: int
    at: _At
    first: int
    last: int = 0
    passes: list[Review] = field(default_factory=list)


def rating(passes: Sequence[Review]) -> int:
    """What a day's passes of one card are worth, in their order; see above."""
    said = [one for one in passes if one.clean is not None]
    clean = [one for one in said if one.clean]
    if not said:
        return HARD
    if not clean:
        return AGAIN
    fast_enough = any(one.goal is None or one.tempo >= one.goal for one in clean)
    return GOOD if said[0].clean and fast_enough else HARD


def due(connection: sqlite3.Connection, today: date) -> list[Due]:
    """Every card, what is due first in front.

    What was reckoned up to yesterday is kept in the file for the next time, where it can be written.

    Args:
        connection: to the log.
        today: the day on the wall.

    Raises:
        NoFsrsError: if the package is not installed.
        sqlite3.Error: if the file cannot be read.
    """
    try:
        import fsrs
    except ImportError as error:
        raise NoFsrsError from error
    scheduler = fsrs.Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
    by = f"fsrs {importlib.metadata.version('fsrs')}, rule {RULE}"
    cards = _folded(connection, scheduler, day_number(today), by)
    now = EPOCH + timedelta(days=day_number(today))
    found = [
        Due(
            intro,
            same_key(key),
            day_from(kept.day),
            day_from(kept.due),
            scheduler.get_card_retrievability(_card(kept), now),
        )
        for (intro, key), kept in cards.items()
    ]
    return sorted(found, key=lambda one: (one.due, one.remembered, one.intro, str(one.key)))


def _folded(connection: sqlite3.Connection, scheduler: Scheduler, today: int, by: str) -> dict[_At, _Kept]:
    """All cards as of today. Days before today are kept in the file; today is not over yet."""
    settled = connection.execute("SELECT upto, by FROM settled").fetchone()
    upto = settled[0] if settled and settled[1] == by else 0
    cards = _kept_cards(connection) if upto else {}
    days = _by_day(connection, upto)
    if any(one.at in cards and one.day <= cards[one.at].day for one in days):  # a clock was set back
        upto, cards, days = 0, {}, _by_day(connection, 0)
    over = [one for one in days if one.day < today]
    for one in over:
        cards[one.at] = _reviewed(cards.get(one.at), one, scheduler)
    last = max((one.last for one in over), default=0)
    in_order = all(one.first > last for one in days[len(over) :])
    if over and in_order:
        changed = {one.at: cards[one.at] for one in over}
        _keep(connection, changed, settled, (last, by), anew=upto == 0)
    for one in days[len(over) :]:
        cards[one.at] = _reviewed(cards.get(one.at), one, scheduler)
    return cards


def _by_day(connection: sqlite3.Connection, upto: int) -> list[_DayOf]:
    """The passes after one, by day, and each day's by card."""
    found: list[_DayOf] = []
    rows = connection.execute(_PASSES, (upto,))
    for day, of_day in itertools.groupby(rows, key=lambda row: row[2]):
        cards: dict[_At, _DayOf] = {}
        for intro, key, _, number, clean, tempo, goal in of_day:
            at = (intro, str(same_key(key)))
            one = cards.setdefault(at, _DayOf(day, at, number))
            one.last = number
            one.passes.append(Review(None if clean is None else bool(clean), tempo, goal))
        found += cards.values()
    return found


def _reviewed(kept: _Kept | None, of: _DayOf, scheduler: Scheduler) -> _Kept:
    """A card after a day's review."""
    import fsrs

    when = EPOCH + timedelta(days=of.day)
    card = fsrs.Card(card_id=0, due=when) if kept is None else _card(kept)
    card, _ = scheduler.review_card(card, fsrs.Rating(rating(of.passes)), when)
    assert card.stability is not None
    assert card.difficulty is not None
    return _Kept(of.day, card.stability, card.difficulty, (card.due - EPOCH).days)


def _card(kept: _Kept) -> Card:
    import fsrs

    return fsrs.Card(
        card_id=0,
        state=fsrs.State.Review,
        stability=kept.stability,
        difficulty=kept.difficulty,
        due=EPOCH + timedelta(days=kept.due),
        last_review=EPOCH + timedelta(days=kept.day),
    )


def _kept_cards(connection: sqlite3.Connection) -> dict[_At, _Kept]:
    rows = connection.execute("SELECT intro, key, day, stability, difficulty, due FROM cards")
    return {(intro, key): _Kept(*numbers) for intro, key, *numbers in rows}


def _keep(
    connection: sqlite3.Connection,
    changed: dict[_At, _Kept],
    before: tuple[int, str] | None,
    now: tuple[int, str],
    *,
    anew: bool,
) -> None:
    """Writes cards that have changed; what cannot be written is reckoned again the next time."""
    try:
        connection.execute("BEGIN IMMEDIATE")
        try:
            if connection.execute("SELECT upto, by FROM settled").fetchone() == before:
                if anew:
                    connection.execute("DELETE FROM cards")
                rows = [(*at, *kept) for at, kept in changed.items()]
                connection.executemany("INSERT OR REPLACE INTO cards VALUES (?, ?, ?, ?, ?, ?)", rows)
                connection.execute("DELETE FROM settled")
                connection.execute("INSERT INTO settled VALUES (?, ?)", now)
            connection.execute("COMMIT")
        finally:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
    except sqlite3.OperationalError:
        pass
