"""One pass as the log keeps it. Pure: the time comes with it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo

from introit.theory.key import Key

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_EPOCH_DAY = EPOCH.date().toordinal()
_MINUTE = timedelta(minutes=1)
_MILLISECOND = timedelta(milliseconds=1)
ASIDE = frozenset({"listen", "build"})
"""Modes in which something else is practised than to play the intro in a key: they say nothing of that."""


@dataclass(frozen=True, slots=True)
class Played:
    """One pass that was played to its end.

    Attributes:
        began: when, with a time zone; kept to the millisecond. Its day is the one on the wall where it was
            played, so a pass across midnight belongs to the evening, and a journey changes no day before it.
        seconds: how long it took, its rest not counted.
        intro: id of the intro.
        key: the key, as it was called.
        tempo: quarter notes a minute.
        tune: id of the tune; empty where the intro was practised alone.
        hidden: parts that the tool left to the player, such as `melody`.
        clean: whether the player said that it was clean; None where nothing could be said.
        mode: how it was practised, in one word or more: `loop`, `keys climb`, `listen`; see `ASIDE`.
        goal: the tempo that is aimed at; None where there is none.
        bars: the passage, such as `3-4`; empty for the whole intro.
    """

    began: datetime
    seconds: float
    intro: str
    key: Key
    tempo: float
    tune: str = ""
    hidden: tuple[str, ...] = ()
    clean: bool | None = None
    mode: str = "loop"
    goal: float | None = None
    bars: str = ""

    def __post_init__(self) -> None:
        if self.began.tzinfo is None:
            raise ValueError(f"{self.began} says no time zone")

    @property
    def day(self) -> date:
        """The day on the wall."""
        return self.began.date()

    @property
    def whole(self) -> bool:
        """Whether all of the intro was played, as it is: only such a pass counts for a key."""
        return not self.bars and ASIDE.isdisjoint(self.mode.split())


def at_home(began: datetime, zone: tzinfo | None = None) -> datetime:
    """The same instant to the millisecond, on the clock of a zone; None for the system's own zone."""
    return instant(milliseconds(began), offset_minutes(began.astimezone(zone)))


def milliseconds(began: datetime) -> int:
    """Whole milliseconds since 1970 in UTC."""
    return (began - EPOCH) // _MILLISECOND


def offset_minutes(began: datetime) -> int:
    """Minutes that the wall's clock is ahead of UTC; below zero in the west."""
    return (began.utcoffset() or timedelta()) // _MINUTE


def instant(since: int, offset: int) -> datetime:
    """An instant on the wall's clock, from `milliseconds` and `offset_minutes`."""
    return (EPOCH + since * _MILLISECOND).astimezone(timezone(offset * _MINUTE))


def day_number(day: date) -> int:
    """Days since 1970-01-01."""
    return day.toordinal() - _EPOCH_DAY


def day_from(number: int) -> date:
    """The day with that number."""
    return date.fromordinal(number + _EPOCH_DAY)
