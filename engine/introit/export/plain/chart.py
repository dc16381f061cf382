"""A tune's chart as lines of text: a chorus in the order in which it is played, and how the last one ends."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from introit.arrange.chorus import choruses_of
from introit.export.plain.signs import Signs
from introit.library.bars import Bar, Slot
from introit.library.chart import CODA, chorus_bars
from introit.library.model import Tune
from introit.theory.chord import chord_of
from introit.theory.key import Key
from introit.theory.numeral import Numeral

BARS_A_LINE = 4


def chart_lines(tune: Tune, key: Key, *, signs: Signs) -> list[str]:
    """The lines: four bars in each, a section beginning a new one, each with the number of its first bar.

    The chords are those that are played: a last bar shows the turnaround that leads back.

    Args:
        tune: with a chart.
        key: what it is shown in.
        signs: what is drawn with.

    Raises:
        ArrangeError: when the tune has no chart, or has one for the other mode.
    """
    choruses = choruses_of(tune, key)
    assert tune.chart is not None
    order = " ".join(name for name in tune.chart.order if name)
    count = len(choruses.bars)
    lines = [f"{tune.title} in {key}, {tune.meter}: {_bars(count)} a chorus{order and ', ' + order}", ""]
    begun = [number for number, bar in enumerate(chorus_bars(tune.chart)) if bar.begins]
    names = dict(zip(begun, tune.chart.order, strict=True))
    width = max(map(len, tune.chart.order))
    for start, end in zip(begun, [*begun[1:], count], strict=True):
        for first in range(start, end, BARS_A_LINE):
            bars = choruses.bars[first : min(first + BARS_A_LINE, end)]
            lines.append(f"{first + 1:>4}  {names.get(first, ''):<{width}}  {_told(bars, key, signs)}")
    ending = [*choruses.last[choruses.leaves :], Bar((Slot(choruses.landing),))]
    coda = f"the {CODA}: " if tune.chart.coda else ""
    return [
        *lines,
        "",
        f"last chorus: bars 1 to {choruses.leaves}, then {coda}{_told(ending, key, signs)}, and stop",
    ]


def chart_document(tune: Tune, key: Key) -> dict[str, Any]:
    """The same for programs: bars as lists of (symbol, shares of the bar), in the order of playing.

    Raises:
        ArrangeError: when the tune has no chart, or has one for the other mode.
    """
    choruses = choruses_of(tune, key)

    def told(bars: Sequence[Bar]) -> list[list[tuple[str, int]]]:
        chords = ([(slot.chord, slot.share) for slot in bar.slots] for bar in bars)
        return [
            [(_symbol(one, key), share) for one, share in bar if isinstance(one, Numeral)] for bar in chords
        ]

    return {
        "id": tune.id,
        "title": tune.title,
        "key": str(key),
        "meter": str(tune.meter),
        "order": list(tune.chart.order) if tune.chart else [],
        "chorus": told(choruses.bars),
        "leaves_after": choruses.leaves,
        "last_chorus": told(choruses.last),
        "lands_on": _symbol(choruses.landing, key),
    }


def _bars(count: int) -> str:
    return f"{count} bar{'' if count == 1 else 's'}"


def _told(bars: Sequence[Bar], key: Key, signs: Signs) -> str:
    return " | ".join(_bar(bar, key, signs) for bar in bars)


def _bar(bar: Bar, key: Key, signs: Signs) -> str:
    """A bar's chords; where they share it unevenly, a dot for each share more."""
    uneven = len({slot.share for slot in bar.slots}) > 1
    words = [
        [signs.word(_symbol(slot.chord, key)), *("." * (slot.share - 1) if uneven else "")]
        for slot in bar.slots
        if isinstance(slot.chord, Numeral)
    ]
    return " ".join(word for told in words for word in told)


def _symbol(chord: Numeral, key: Key) -> str:
    return chord_of(chord, key).symbol
