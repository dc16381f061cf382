"""A ruler of time for lines of text: every beat is as wide as every other, bars stand under their names."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from introit.arrange.arranger import symbol_of
from introit.arrange.score import Score
from introit.export.plain.signs import Signs
from introit.units import TICKS_PER_QUARTER

NARROWEST, WIDEST = 80, 160
"""Columns that a drawing may take: never fewer are reckoned with, and more make it no easier to read."""
MOST_BARS = 4
"""Bars on a line: players count in fours."""


class Label(NamedTuple):
    """A word over or under a tick."""

    tick: int
    text: str


@dataclass(frozen=True, slots=True)
class Ruler:
    """Where ticks lie in lines of text.

    Attributes:
        beats: in a bar.
        bars: in all, one more than the intro has where notes begin on the head.
        per_line: bars on a line.
        beat: columns of a beat.
        lead: columns between a bar line and the bar's first beat.
        margin: columns before the first bar line, that line among them.
    """

    beats: int
    bars: int
    per_line: int
    beat: int
    lead: int
    margin: int

    @property
    def bar(self) -> int:
        """Columns of a bar with the line behind it."""
        return self.lead + self.beats * self.beat + 1

    @property
    def lines(self) -> range:
        """The lines, from 0."""
        return range(-(-self.bars // self.per_line))

    def bars_on(self, line: int) -> range:
        """The bars on a line, from 0."""
        return range(line * self.per_line, min(self.bars, (line + 1) * self.per_line))

    def width(self, line: int) -> int:
        """Columns of a line."""
        return self.margin + len(self.bars_on(line)) * self.bar

    def line_of(self, tick: int) -> int:
        """The line that a tick is on."""
        return tick // self._bar_ticks // self.per_line

    def column(self, tick: int) -> int:
        """The column of a tick in its line."""
        bar, rest = divmod(tick, self._bar_ticks)
        return self.start(bar) + self.lead + rest * self.beat // TICKS_PER_QUARTER

    def start(self, bar: int) -> int:
        """The first column of a bar, behind the bar line before it."""
        return self.margin + bar % self.per_line * self.bar

    def fits(self, ticks: Iterable[int]) -> bool:
        """Whether each tick has a column of its own."""
        return not any(tick * self.beat % TICKS_PER_QUARTER for tick in ticks)

    def words(self, labels: Sequence[Label], line: int, width: int) -> list[str]:
        """The labels of a line, each at its tick; in more than one row only where they would touch."""
        rows: list[str] = []
        for label in (one for one in labels if self.line_of(one.tick) == line):
            column = min(self.column(label.tick), max(0, width - len(label.text)))
            free = next((at for at, row in enumerate(rows) if len(row) < column), len(rows))
            if free == len(rows):
                rows.append("")
            rows[free] = rows[free].ljust(column) + label.text
        return rows

    def beat_numbers(self, line: int) -> str:
        """The beats of a line, counted in each bar."""
        row = ""
        for bar in self.bars_on(line):
            for beat in range(self.beats):
                row = row.ljust(self.start(bar) + self.lead + beat * self.beat) + str(beat + 1)
        return row

    @property
    def _bar_ticks(self) -> int:
        return self.beats * TICKS_PER_QUARTER


def ruled(
    score: Score,
    *,
    bars: int,
    width: int,
    margin: int,
    lead: int,
    beats_wide: Sequence[int],
    wanted: Sequence[Callable[[Ruler], bool]],
    rows: Sequence[Sequence[Label]] = (),
    most_bars: int = MOST_BARS,
) -> Ruler:
    """The ruler with the most bars a line on which everything is told apart.

    Args:
        score: gives the meter.
        bars: to be ruled.
        width: columns of the terminal.
        margin: see `Ruler`.
        lead: see `Ruler`.
        beats_wide: columns that a beat may take, the best first.
        wanted: what a ruler should be; where none is all of it, the last of them will do.
        rows: labels; those of a row shall not touch. Where they do on every ruler, they touch.
        most_bars: on a line.
    """
    beats = score.plan.meter.beats
    counts = [n for n in range(min(most_bars, bars), 0, -1) if n != 3 or bars % 3 == 0]
    rulers = [Ruler(beats, bars, count, beat, lead, margin) for count in counts for beat in beats_wide]
    rulers = [ruler for ruler in rulers if ruler.width(0) <= width] or rulers[-1:]
    told_apart = (
        [ruler for ruler in rulers if all(is_so(ruler) for is_so in wanted)]
        or [ruler for ruler in rulers if wanted[-1](ruler)]
        or rulers[-1:]
    )
    for ruler in told_apart:
        if all(_in_a_row(ruler, row, width) for row in rows):
            return ruler
    return told_apart[-1]


def _in_a_row(ruler: Ruler, labels: Sequence[Label], width: int) -> bool:
    return all(len(ruler.words(labels, line, width)) < 2 for line in ruler.lines)


def bars_of(score: Score) -> int:
    """Bars to be drawn: the intro's, and the head's first where something of it is played already."""
    plan = score.plan
    onto_head = any(max(note.onset, note.harmony_tick) >= plan.head_tick for note in score.notes)
    return plan.bars + onto_head


def bar_labels(score: Score, bars: int) -> list[Label]:
    """`bar 1`, `bar 2`; where the head's first chord is played too, `head`."""
    plan = score.plan
    return [
        Label(bar * plan.bar_ticks, f"bar {bar + 1}" if bar < plan.bars else "head") for bar in range(bars)
    ]


def chord_labels(score: Score, bars: int, signs: Signs) -> tuple[list[Label], list[Label]]:
    """Chord names and numerals, with the head's where its bar is drawn."""
    plan = score.plan
    names = [(chord.onset, symbol_of(chord), str(chord.numeral)) for chord in plan.chords]
    if bars > plan.bars:
        names.append((plan.head_tick, plan.head.symbol, str(plan.tune.first_chord)))
    return (
        [Label(tick, signs.word(symbol)) for tick, symbol, _ in names],
        [Label(tick, signs.word(numeral)) for tick, _, numeral in names],
    )
