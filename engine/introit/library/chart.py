"""A tune's chart: its chords by bar, in sections, and the order in which they are played.

The order has the trade's usual meaning. A section is played wherever the order names it. Bars between repeat
signs are played twice, or as often as they have endings: the first time with the first ending, the second
time with the second. Where a section has endings and no repeat sign, they count the times that the section
comes in a chorus (A, A with its second ending, B, A), and whoever comes oftener than there are endings takes
the last. The coda is for the last chorus alone: it is gone to the last time that its sign is passed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from introit.library.bars import Bar, Slot
from introit.theory.key import Mode

CODA = "coda"
"""The section of the coda's bars, as they are played."""


@dataclass(frozen=True, slots=True)
class Measure:
    """A bar of a chart as it is written; `to_coda` where the last chorus goes to the coda after it."""

    bar: Bar
    to_coda: bool = False


@dataclass(frozen=True, slots=True)
class Ending:
    """How some bars end: `times` are the times, from 1, at which they end so."""

    times: tuple[int, ...]
    measures: tuple[Measure, ...]


@dataclass(frozen=True, slots=True)
class Strain:
    """Bars that are played together.

    Attributes:
        measures: before the endings, where there are any.
        times: how often they are played where they come; 1 without repeat signs.
        endings: each time is an ending's, from 1 on without a gap; none where they end alike each time.
    """

    measures: tuple[Measure, ...]
    times: int = 1
    endings: tuple[Ending, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the form, such as `A`; a chart without sections has one whose name is empty."""

    name: str
    strains: tuple[Strain, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """A tune's chords.

    Attributes:
        mode: of the key that it is written in; in the other it does not go.
        sections: as they are written; no name twice.
        order: names of the sections in the order of a chorus.
        coda: what ends the last chorus; empty for none. Some bar that is played says `to_coda` then.
    """

    mode: Mode
    sections: tuple[Section, ...]
    order: tuple[str, ...]
    coda: tuple[Bar, ...] = ()

    @property
    def first(self) -> Slot:
        """The chord that a chorus begins with."""
        return next(passed_bars(self)).bar.slots[0]


class PlayedBar(NamedTuple):
    """A bar in the order of playing.

    Attributes:
        section: the section's name; `coda` in the coda.
        bar: its chords.
        to_coda: whether the coda's sign stands after it.
        begins: whether it is the first of its section's bars, there.
    """

    section: str
    bar: Bar
    to_coda: bool = False
    begins: bool = False


def chorus_bars(chart: Chart, *, last: bool = False) -> tuple[PlayedBar, ...]:
    """The bars of a chorus in the order in which they are played.

    Args:
        chart: the chart.
        last: whether it is the last chorus, which goes to the coda where there is one.
    """
    played, leaves = tuple(passed_bars(chart)), leaves_after(chart)
    if not last or not leaves:
        return played
    coda = (PlayedBar(CODA, bar, begins=number == 0) for number, bar in enumerate(chart.coda))
    return (*played[:leaves], *coda)


def leaves_after(chart: Chart) -> int:
    """How many bars of the last chorus are played before its coda; 0 for a chart without one."""
    passed = [number for number, played in enumerate(passed_bars(chart), start=1) if played.to_coda]
    return passed[-1] if passed and chart.coda else 0


def passed_bars(chart: Chart) -> Iterator[PlayedBar]:
    """The bars of a chorus that goes to no coda, one by one: of untrusted text there may be very many."""
    sections = {section.name: section for section in chart.sections}
    came: Counter[str] = Counter()
    for name in chart.order:
        came[name] += 1
        begins = True
        for measure in _passed(sections[name], came[name]):
            yield PlayedBar(name, measure.bar, measure.to_coda, begins)
            begins = False


def _passed(section: Section, came: int) -> Iterator[Measure]:
    """A section's measures, the time that it comes in its chorus counted from 1."""
    for strain in section.strains:
        for time in range(1, strain.times + 1):
            yield from strain.measures
            if strain.endings:
                yield from _ending(strain, time if strain.times > 1 else came).measures


def _ending(strain: Strain, time: int) -> Ending:
    return next((ending for ending in strain.endings if time in ending.times), strain.endings[-1])
