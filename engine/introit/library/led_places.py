"""Places in an intro that a tune names for the foot: a held chord, where time is kept, bars that go round."""

from __future__ import annotations

import re

from introit.errors import did_you_mean
from introit.library.fields import Fields, report_word, scalar
from introit.library.leading import BarBeat, Bars
from introit.library.length import bars_of
from introit.library.model import Intro, Tune
from introit.library.nodes import Node, Scalar
from introit.library.reading import Reading, shown
from introit.theory.meter import METERS

MOST_BARS = 64
_MOST_BEATS = max(int(meter[0]) for meter in METERS)

_FLAGS = {"true": True, "false": False}
_WHERE = "`bar 3` or `bar 3 beat 2`"
_WHICH = "`bar 2` or `bars 1-2`"
_VAMPED = re.compile(r"bars?\s+(\d{1,4})(?:\s*(?:-|\u2013|to)\s*(\d{1,4}))?", re.IGNORECASE)
_PLACE = re.compile(r"bars?\s+(\d{1,4})(?:,?\s+beats?\s+(\d{1,4}))?", re.IGNORECASE)


def held(node: Node, reading: Reading) -> BarBeat | bool | None:
    """`true` or `false`, or the place of a chord."""
    value, found = _flag_or(node, reading, _PLACE, where=_WHERE, number="bar")
    return _bar_beat(value, found, reading) if isinstance(found, re.Match) else found


def in_time(node: Node, reading: Reading) -> BarBeat | None:
    """The place from which time is kept, behind the first beat."""
    value = scalar(node, reading, needed=_WHERE)
    if value is None:
        return None
    match = _PLACE.fullmatch(value.text.strip())
    if match is None:
        _report_no_place(value, reading, needed=_WHERE, number="bar")
        return None
    place = _bar_beat(value, match, reading)
    if place == BarBeat(1, 1):
        message = "nothing is out of time before bar 1; `in_time` needs a later place"
        reading.report(value.place, "out-of-range", message)
        return None
    return place


def _bar_beat(value: Node, found: re.Match[str], reading: Reading) -> BarBeat | None:
    bar, beat = int(found[1]), int(found[2] or 1)
    bar_fits = _counts(value, reading, bar, "bar", MOST_BARS)
    return BarBeat(bar, beat) if _counts(value, reading, beat, "beat", _MOST_BEATS) and bar_fits else None


def vamped(node: Node, reading: Reading) -> Bars | bool | None:
    """`true` or `false`, or the bars that go round."""
    value, found = _flag_or(node, reading, _VAMPED, where=_WHICH, number="bar")
    if not isinstance(found, re.Match):
        return found
    first, last = int(found[1]), int(found[2] or found[1])
    if not all(_counts(value, reading, bar, "bar", MOST_BARS) for bar in sorted({first, last})):
        return None
    if first > last:
        message = f"the first of the bars comes first; {first} is behind {last}"
        reading.report(value.place, "out-of-range", message, f"Write `bars {last}-{first}`.")
        return None
    return Bars(first, last)


def check_places(fields: Fields, tune: Tune, intros: list[Intro], reading: Reading) -> None:
    """What a tune names must be there in its meter, and in each intro that it names."""
    bars = tune.leading.vamp_bars
    for key, place in (("hold", tune.leading.held), ("in_time", tune.leading.in_time)):
        if place is None:
            continue
        if place.beat > tune.meter.beats:
            message = f"a bar of {tune.meter} has {tune.meter.beats} beats; `{key}` names beat {place.beat}"
            reading.report(fields.place_of(key), "does-not-fit", message)
        _check_bar(fields, key, place.bar, tune, intros, reading)
    if bars is not None:
        _check_bar(fields, "vamp", bars.last, tune, intros, reading)


def _check_bar(fields: Fields, key: str, bar: int, tune: Tune, intros: list[Intro], reading: Reading) -> None:
    for intro in intros:
        forms = [form for form in intro.forms if form.mode is tune.key.mode]
        bars = max(bars_of(intro, form, meter=tune.meter, tempo=tune.tempo) for form in forms)
        if bar > bars:
            message = f"intro {intro.id!r} has bars 1 to {bars} at {tune.tempo:g}; `{key}` names bar {bar}"
            reading.report(fields.place_of(key), "does-not-fit", message)


def _flag_or(
    node: Node, reading: Reading, pattern: re.Pattern[str], *, where: str, number: str
) -> tuple[Node, re.Match[str] | bool | None]:
    """`true` or `false`, or what the pattern found in another text; None after a mistake."""
    value = scalar(node, reading, needed=f"true, false, {where}")
    if value is None:
        return node, None
    text = value.text.strip()
    if value.style == "plain" and text.casefold() in _FLAGS:
        return node, _FLAGS[text.casefold()]
    match = pattern.fullmatch(text)
    if match is None:
        _report_no_place(value, reading, needed=f"true, false, {where}", number=number, flags=tuple(_FLAGS))
    return node, match


def _report_no_place(
    value: Scalar, reading: Reading, *, needed: str, number: str, flags: tuple[str, ...] = ()
) -> None:
    text = value.text.strip()
    if text.isdigit():
        message = f"{needed} is needed; {shown(text)} is given"
        reading.report(value.place, "wrong-type", message, f"Write `{number} {text}`.")
        return
    first = text.split()[0] if text else ""
    hint = did_you_mean(first, (*flags, "bar", "bars"))
    if hint or " " in text:
        message = f"{shown(text)} names no place; {needed} is needed"
        reading.report(value.place, "not-allowed", message, "" if first in ("bar", "bars") else hint)
    else:
        report_word(value, reading, needed=needed)


def _counts(value: Node, reading: Reading, number: int, what: str, most: int) -> bool:
    if 1 <= number <= most:
        return True
    message = f"{what} {number} is out of range; {what}s count from 1, to {most} at most"
    reading.report(value.place, "out-of-range", message)
    return False
