"""A section of a chart as it is written: bars between bar lines, repeat signs, endings, the way to the coda.

`|:` and `:|` enclose what is played twice; without `|:` a section is repeated from where it begins. `1.` and
`2.` begin the first and the second ending: an ending lasts until the next one, or until `||`, `|:` or the end
of the section. `to coda` after a bar says where the last chorus goes to the coda.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

from introit.library.bars import Bar
from introit.library.chart import Ending, Measure, Strain
from introit.library.harmony import MOST_BARS, ReadChord, read_bar
from introit.library.lines import Piece, music_lines, trimmed
from introit.library.nodes import Node
from introit.library.reading import Place, Reading
from introit.theory.meter import Meter

_LINE = re.compile(r":?\|{1,2}:?")
_TIMES = re.compile(r"(\d(?:\s*[,-]\s*\d)*)\s*\.(?:\s+|$)")
_TO_CODA = re.compile(r"(?:^|\s)to\s+coda$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Written:
    """What a section holds.

    Attributes:
        strains: its bars.
        signs: places of what a coda may not have.
        to_coda: place of the first `to coda`.
    """

    strains: tuple[Strain, ...]
    signs: tuple[Place, ...] = ()
    to_coda: Place | None = None

    @property
    def plain_bars(self) -> tuple[Bar, ...]:
        """All bars of a section without repeats."""
        return tuple(measure.bar for strain in self.strains for measure in strain.measures)


class _Sign(NamedTuple):
    """A bar line, or what stands between two of them; `text` and `offset` as in `lines.Piece`."""

    text: str
    offset: int
    is_line: bool


def read_section(
    name: str, node: Node, *, meter: Meter, reading: Reading, read_chord: ReadChord
) -> Written | None:
    """What a section holds, or None with its mistakes in `reading`."""
    needed = f"harmony of section {name}" if name else "the chart's harmony"
    lines = music_lines(node, reading, needed=needed)
    if lines is None:
        return None
    before = len(reading.problems)
    writer = _Writer(meter, reading, read_chord)
    for line in lines:
        for sign in _signs(line, reading):
            writer.write(sign)
    strains = writer.finish()
    if writer.count > MOST_BARS:
        message = f"{writer.count} bars; a section is written in at most {MOST_BARS}"
        reading.report(node.place, "out-of-range", message)
    if not strains and len(reading.problems) == before:
        reading.report(node.place, "bad-bar", f"{needed} is needed; there is no bar")
    if len(reading.problems) > before:
        return None
    return Written(strains, tuple(writer.signs), writer.to_coda)


def _signs(line: Piece, reading: Reading) -> Iterator[_Sign]:
    """Bar lines and what stands between them; plain ones at either end of a line are drawn for the eye."""
    ends = [0, *(place for found in _LINE.finditer(line.text) for place in found.span()), len(line.text)]
    pieces = [
        (trimmed(Piece(line.text[start:end], line.offset + start)), number % 2 == 1)
        for number, (start, end) in enumerate(pairwise(ends))
    ]
    for number, (piece, is_line) in enumerate(pieces):
        beside = [text.text for text, _ in pieces[max(0, number - 1) : number + 2]]
        if piece.text:
            yield _Sign(piece.text, piece.offset, is_line)
        elif 0 < number < len(pieces) - 1 and beside[0] == beside[-1] == "|":
            message = "a bar with nothing in it"
            reading.report(
                reading.place(piece.offset), "bad-bar", message, "Write % to repeat the bar before."
            )


@dataclass(slots=True)
class _Writer:
    """Writes a section down, sign by sign."""

    meter: Meter
    reading: Reading
    read_chord: ReadChord
    count: int = 0
    signs: list[Place] = field(default_factory=list)
    to_coda: Place | None = None
    _strains: list[Strain] = field(default_factory=list)
    _body: list[Measure] = field(default_factory=list)
    _endings: list[tuple[tuple[int, ...], list[Measure]]] = field(default_factory=list)
    _numbered: Place | None = None
    _opened: Place | None = None
    _repeated: bool = False
    _over: bool = False
    _before: list[Bar | None] = field(default_factory=list)

    def write(self, sign: _Sign) -> None:
        """One sign more."""
        if not sign.is_line:
            self._between(Piece(sign.text, sign.offset))
        elif ":" in sign.text:
            self.signs.append(self.reading.place(sign.offset))
            if sign.text.startswith(":"):
                self._close(sign)
            if sign.text.endswith(":"):
                self._end_strain()
                self._opened = self.signs[-1]
        elif sign.text == "||":
            self._over = self._over or bool(self._endings)

    def finish(self) -> tuple[Strain, ...]:
        """All that was written."""
        self._end_strain()
        return tuple(self._strains)

    def _close(self, sign: _Sign) -> None:
        place = self.reading.place(sign.offset)
        if not self._body and not self._endings:
            self._report(place, "a repeat sign with no bar before it that is to be repeated")
        elif self._repeated and not self._endings:
            self._report(place, "a second repeat sign for the same bars")
        self._repeated = self._over = True

    def _between(self, piece: Piece) -> None:
        """A bar, with what stands before it and behind it; either may stand alone."""
        numbers = _TIMES.match(piece.text)
        if numbers:
            self._begin_ending(numbers[1], piece)
            piece = trimmed(Piece(piece.text[numbers.end() :], piece.offset + numbers.end()))
        leaves = _TO_CODA.search(piece.text)
        bar = Piece(piece.text[: leaves.start()].rstrip(), piece.offset) if leaves else piece
        if bar.text:
            self._bar(bar)
        if leaves:
            self._leave(self.reading.place(piece.offset + piece.text.lower().index("to", leaves.start())))

    def _bar(self, piece: Piece) -> None:
        if self._over:
            self._end_strain()
        self.count += 1
        bar = read_bar(
            piece,
            self._before[-1:],
            number=self.count,
            meters=(self.meter,),
            reading=self.reading,
            read_chord=self.read_chord,
        )
        self._before.append(bar)
        # One with mistakes is written down as empty: the chart is thrown away, the mistakes are all told.
        self._measures.append(Measure(bar or Bar(())))

    @property
    def _measures(self) -> list[Measure]:
        return self._endings[-1][1] if self._endings else self._body

    def _begin_ending(self, numbers: str, piece: Piece) -> None:
        place = self.reading.place(piece.offset)
        self.signs.append(place)
        if not self._body and not self._endings:
            self._report(place, "an ending with no bar before it in the section that it could end")
        elif self._repeated and not self._endings:
            self._report(place, "an ending behind the repeat sign; the first one stands before it")
        self._numbered = self._numbered or place
        self._endings.append((_times(numbers), []))
        self._before = [measure.bar for measure in self._body[-1:]]
        self._over = False

    def _leave(self, place: Place) -> None:
        self.signs.append(place)
        self.to_coda = self.to_coda or place
        measures = self._measures
        if measures:
            measures[-1] = Measure(measures[-1].bar, to_coda=True)
        else:
            self._report(place, "`to coda` stands behind the last bar before the coda, and here is none")

    def _end_strain(self) -> None:
        """What has been written since the last strain is one; another may begin."""
        if self._opened and not self._repeated:
            self._report(self._opened, "a repeat that is opened here and closed nowhere: `:|` is missing")
        if self._body:
            times = [time for own, _ in self._endings for time in own]
            if self._numbered and sorted(times) != list(range(1, max(2, len(times)) + 1)):
                there = ", ".join(f"{time}." for time in times)
                self._report(
                    self._numbered, f"endings are {there}; each time from 1. on needs one, from two on"
                )
            elif empty := next((own for own, measures in self._endings if not measures), None):
                self._report(self._numbered, f"ending {empty[0]}. has no bar")
            endings = tuple(Ending(own, tuple(measures)) for own, measures in self._endings)
            often = max(times, default=2) if self._repeated else 1
            self._strains.append(Strain(tuple(self._body), often, endings))
        self._body, self._endings = [], []
        self._numbered = self._opened = None
        self._repeated = self._over = False

    def _report(self, place: Place | None, message: str) -> None:
        self.reading.report(place or Place(1, 1), "bad-chart", message)


def _times(text: str) -> tuple[int, ...]:
    """The times of `1`, `1,2` or `1-3`."""
    found: list[int] = []
    for part in text.split(","):
        first, _, last = part.strip().partition("-")
        found += range(int(first), int(last or first) + 1)
    return tuple(found)


def bars_in(strains: Sequence[Strain]) -> Iterator[Bar]:
    """Every bar that is written, in its order."""
    for strain in strains:
        for measures in (strain.measures, *(ending.measures for ending in strain.endings)):
            yield from (measure.bar for measure in measures)
