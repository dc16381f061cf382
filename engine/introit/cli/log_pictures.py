"""What the practice log knows, drawn in lines of text: at most 80 columns, and in ASCII where it must be."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta
from typing import NamedTuple

from introit.export.plain.signs import can_show
from introit.practice.log.due import Due
from introit.practice.log.homework import KeyDone, TuneDone
from introit.practice.log.views import Day, InKey, Visited, circle
from introit.theory.key import Key

WIDTH = 80
MOST_DAYS = 31
"""More days than these are drawn by the week, more weeks than these by the month."""
_BAR = 26
_SCALE = 48
"""Columns of the tempi."""
_NAME = 9
"""Columns of a key's name."""
_CELL = 12
"""Columns from one number on the scale of tempi to the next."""


class Marks(NamedTuple):
    """What the pictures are made of, one character each.

    Attributes:
        bar: minutes.
        line: from the slowest to the fastest tempo.
        clean: the fastest clean one.
        ground: where nothing was played.
        done, open: a key of homework.
    """

    bar: str
    line: str
    clean: str
    ground: str
    done: str
    open: str


DRAWN = Marks(bar="█", line="─", clean="●", ground="·", done="✓", open="·")
TYPED = Marks(bar="#", line="-", clean="@", ground=".", done="x", open=".")


def marks_for(encoding: str | None) -> Marks:
    """The drawn marks where they can be written in an encoding, else those on a typewriter."""
    return DRAWN if can_show("".join(DRAWN), encoding) else TYPED


def days(found: Sequence[Day], marks: Marks) -> list[str]:
    """Minutes, passes and clean passes: by day, or by week or month where there are many days."""
    spans = _spans(found)
    most = max((span.seconds for _, span in spans), default=0.0)
    lines = []
    for name, span in spans:
        bar = marks.bar * _share(span.seconds, most, _BAR)
        lines.append(f"{name:<12}{_minutes(span.seconds):>9}  {bar:<{_BAR}}  {_passes(span)}".rstrip())
    whole = _sum(found)
    return [*lines, f"{'together':<12}{_minutes(whole.seconds):>9}  {'':<{_BAR}}  {_passes(whole)}"]


def tempi(found: Sequence[InKey], marks: Marks) -> list[str]:
    """A line for each key, from the slowest tempo to the fastest, with a mark at the fastest clean one.

    Args:
        found: what was played in each key, all intros together or one alone.
        marks: what to draw with.
    """
    if not found:
        return []
    low = min(one.slowest for one in found) // 10 * 10
    high = max(one.fastest for one in found)
    step = max(5, -(-int(high - low + 1) // (_SCALE // _CELL) // 5) * 5)
    lines = [" " * _NAME + _scale(low, step)]
    by_key = {one.key: one for one in found}
    for mode in sorted({one.key.mode for one in found}):
        lines += [_tempo_line(key, by_key.get(key), low, step, marks) for key in circle(mode)]
    legend = f"{marks.line} played, {marks.clean} fastest clean; quarter notes a minute"
    return [*lines, " " * _NAME + legend]


def visits(found: Sequence[Visited], most: int) -> list[str]:
    """Keys in which an intro was never played, those of the intros that were practised last."""
    missing = [one for one in found if one.never]
    lines = []
    for one in missing[:most]:
        told = f"{one.visited} of 12 {one.mode} keys, never in {', '.join(map(str, one.never))}"
        lines += _hanging(f"{one.intro}: {told if one.visited else f'no {one.mode} key yet'}")
    lines += _more(len(missing) - most, "'--intro ID' tells of one")
    round_all = {one.intro for one in found} - {one.intro for one in missing}
    if round_all:
        lines.append(f"{_count(len(round_all), 'intro')} round all keys")
    return lines


def rests(found: Sequence[InKey], today: date, most: int) -> list[str]:
    """What has not been played for longest."""
    lines = []
    for one in [one for one in found if one.last < today][:most]:
        lines += _hanging(f"{_days((today - one.last).days):>9}  {one.intro} in {one.key}", 11)
    return lines


def dues(found: Sequence[Due], today: date, most: int) -> list[str]:
    """What is due, and how much will be."""
    now = [one for one in found if one.due <= today]
    lines = []
    for one in now[:most]:
        over = (today - one.due).days
        when = "today" if not over else f"{_days(over)} ago"
        sure = f"{one.remembered:.0%} likely to be clean"
        lines += _hanging(f"{when:>13}  {one.intro} in {one.key}, {sure}", 15)
    lines += _more(len(now) - most, "'--json' has them all")
    if not now:
        lines.append("nothing is due today")
    week = sum(today < one.due <= today + timedelta(days=7) for one in found)
    return [*lines, f"{week} more within a week"] if week else lines


def homework(found: Sequence[TuneDone], today: date, marks: Marks) -> list[str]:
    """Each tune: what is done, what is left, and how long there is for it."""
    lines: list[str] = []
    for one in found:
        done = len(one.keys) - len(one.left)
        keys = f"{done} of {_count(len(one.keys), 'key')} done"
        lines += _hanging(f"{one.tune.title}: at {one.tempo:g}, {keys}{_deadline(one, today)}", 2)
        lines += ["  " + _key_line(key, marks) for key in one.keys]
        lines.append("")
    total = sum(len(one.keys) for one in found)
    left = sum(len(one.left) for one in found)
    return [*lines, "all of it is done" if not left else f"left: {left} of {_count(total, 'key')}"]


def _key_line(one: KeyDone, marks: Marks) -> str:
    mark = marks.done if one.done else marks.open
    name = f"{mark} {one.key!s:<{_NAME}}{min(one.clean, one.wanted)} of {one.wanted} clean"
    if one.day is not None:
        return f"{name}, done on {one.day:%Y-%m-%d}"
    return f"{name}, clean at {one.fastest:g} so far" if one.fastest is not None else name


def _deadline(one: TuneDone, today: date) -> str:
    to_go = one.days_to_go(today)
    if one.by is None or to_go is None:
        return ""
    if not one.left:
        late = max((key.day for key in one.keys if key.day is not None), default=one.by) > one.by
        return f", by {one.by:%Y-%m-%d}{' (late)' if late else ''}"
    when = "today is the last day" if not to_go else f"{_days(abs(to_go))} {'to go' if to_go > 0 else 'over'}"
    return f", by {one.by:%Y-%m-%d}: {when}"


def _spans(found: Sequence[Day]) -> list[tuple[str, Day]]:
    """The days, or sums of weeks or months, each with its name."""
    if len(found) <= MOST_DAYS:
        return [(f"{day.day:%a} {day.day.day:>2} {day.day:%b}", day) for day in found]
    if len(found) <= 7 * MOST_DAYS:
        return _grouped(found, lambda day: day - timedelta(days=day.weekday()), "%d %b %Y")
    return _grouped(found, lambda day: day.replace(day=1), "%b %Y")


def _share(value: float, most: float, columns: int) -> int:
    """Columns of a bar; what is there at all has one."""
    return max(1, round(value / most * columns)) if value > 0 and most > 0 else 0


def _scale(low: float, step: int) -> str:
    numbers = [f"{low + step * place:g}" for place in range(_SCALE // _CELL + 1)]
    return "".join(f"{number:<{_CELL}}" for number in numbers).rstrip()


def _tempo_line(key: Key, one: InKey | None, low: float, step: int, marks: Marks) -> str:
    columns = [marks.ground if place % _CELL == 0 else " " for place in range(_SCALE + 1)]
    if one is None:
        return f"{key!s:<{_NAME}}{''.join(columns)}  never"

    def column(tempo: float) -> int:
        return min(_SCALE, round((tempo - low) * _CELL / step))

    for place in range(column(one.slowest), column(one.fastest) + 1):
        columns[place] = marks.line
    if one.clean is not None:
        columns[column(one.clean)] = marks.clean
    told = f"clean at {one.clean:g}" if one.clean is not None else f"{one.slowest:g}-{one.fastest:g}"
    return f"{key!s:<{_NAME}}{''.join(columns)}  {told}"


def _grouped(found: Iterable[Day], first: Callable[[date], date], form: str) -> list[tuple[str, Day]]:
    sums: dict[date, list[Day]] = {}
    for day in found:
        sums.setdefault(first(day.day), []).append(day)
    return [(f"{of[0].day:{form}}", _sum(of)) for of in sums.values()]


def _sum(found: Sequence[Day]) -> Day:
    return Day(
        found[0].day,
        sum(day.seconds for day in found),
        sum(day.passes for day in found),
        sum(day.clean for day in found),
    )


def _minutes(seconds: float) -> str:
    """Time as a player says it; what is there at all is a minute."""
    minutes = max(1, round(seconds / 60)) if seconds > 0 else 0
    return f"{minutes // 60} h {minutes % 60:02}" if minutes >= 60 else f"{minutes} min" if minutes else ""


def _passes(day: Day) -> str:
    if not day.passes:
        return ""
    return _count(day.passes, "pass", "passes") + (f", {day.clean} clean" if day.clean else "")


def _days(number: int) -> str:
    return _count(number, "day")


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one}" if number == 1 else f"{number} {many or one + 's'}"


def _more(number: int, hint: str) -> list[str]:
    return [f"and {number} more; {hint}"] if number > 0 else []


def _hanging(text: str, indent: int = 4) -> list[str]:
    """A text in lines of at most `WIDTH` columns, all but the first indented."""
    return textwrap.wrap(
        text, WIDTH, subsequent_indent=" " * indent, break_on_hyphens=False, drop_whitespace=True
    ) or [""]
