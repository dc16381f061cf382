"""Places in an intro that a tune names for the foot: the chord that is held, the bars that go round."""

from __future__ import annotations

import re

from introit.errors import did_you_mean
from introit.library.fields import Fields, report_word, scalar
from introit.library.leading import BarBeat
from introit.library.length import bars_of
from introit.library.model import Intro, Tune
from introit.library.nodes import Node, Scalar
from introit.library.reading import Reading, shown
from introit.theory.meter import METERS

MOST_BARS = 64
_MOST_BEATS = max(int(meter[0]) for meter in METERS)

_FLAGS = {"true": True, "false": False}
_WHERE = "`bar 3` or `bar 3 beat 2`"
_HELD = re.compile(r"bars?\s+(\d{1,4})(?:,?\s+beats?\s+(\d{1,4}))?", re.IGNORECASE)


def held(node: Node, reading: Reading) -> BarBeat | bool | None:
    """`true` or `false`, or the place of a chord."""
    value = scalar(node, reading, needed=f"true, false, {_WHERE}")
    if value is None:
        return None
    text = value.text.strip()
    if value.style == "plain" and text.casefold() in _FLAGS:
        return _FLAGS[text.casefold()]
    match = _HELD.fullmatch(text)
    if match is None:
        _report_no_place(value, reading, where=_WHERE, number="bar")
        return None
    bar, beat = int(match[1]), int(match[2] or 1)
    bar_fits = _counts(value, reading, bar, "bar", MOST_BARS)
    return BarBeat(bar, beat) if _counts(value, reading, beat, "beat", _MOST_BEATS) and bar_fits else None


def check_places(fields: Fields, tune: Tune, intros: list[Intro], reading: Reading) -> None:
    """What a tune names must be there in its meter, and in each intro that it names."""
    place = tune.leading.held
    if place is None:
        return
    if place.beat > tune.meter.beats:
        message = f"a bar of {tune.meter} has {tune.meter.beats} beats; `hold` names beat {place.beat}"
        reading.report(fields.place_of("hold"), "does-not-fit", message)
    _check_bar(fields, "hold", place.bar, tune, intros, reading)


def _check_bar(fields: Fields, key: str, bar: int, tune: Tune, intros: list[Intro], reading: Reading) -> None:
    for intro in intros:
        forms = [form for form in intro.forms if form.mode is tune.key.mode]
        bars = max(bars_of(intro, form, meter=tune.meter, tempo=tune.tempo) for form in forms)
        if bar > bars:
            message = f"intro {intro.id!r} has bars 1 to {bars} at {tune.tempo:g}; `{key}` names bar {bar}"
            reading.report(fields.place_of(key), "does-not-fit", message)


def _report_no_place(value: Scalar, reading: Reading, *, where: str, number: str) -> None:
    needed, text = f"true, false, {where}", value.text.strip()
    if text.isdigit():
        message = f"{needed} is needed; {shown(text)} is given"
        reading.report(value.place, "wrong-type", message, f"Write `{number} {text}`.")
        return
    first = text.split()[0] if text else ""
    hint = did_you_mean(first, (*_FLAGS, "bar", "bars"))
    if hint or " " in text:
        message = f"{shown(text)} names no place; {needed} is needed"
        reading.report(value.place, "not-allowed", message, "" if first in ("bar", "bars") else hint)
    else:
        report_word(value, reading, needed=needed)


def _counts(value: Scalar, reading: Reading, number: int, what: str, most: int) -> bool:
    if 1 <= number <= most:
        return True
    message = f"{what} {number} is out of range; {what}s count from 1, to {most} at most"
    reading.report(value.place, "out-of-range", message)
    return False
