"""Light time as text: what cymbals and stick play, by meter, one instrument a line.

    4/4: |
      ride: 1, 2, &2, 3, 4, &4
      hat: 2, 4
      fourth ride: 1, &1, 2, 3, 4, &4

`1` is beat one, `&2` the off-beat after beat two; `accent` after a position makes it louder; `|` begins the
next bar of a line that is longer than one, `rest` is a bar without a stroke. A line that begins with `fourth`
is what its instrument plays in every fourth bar instead; of several, the dice take one.
"""

from __future__ import annotations

import re
from fractions import Fraction

from introit.errors import did_you_mean
from introit.library.fields import kind_of, report_repeated
from introit.library.lines import Piece, music_lines, split, trimmed, words
from introit.library.model import Tap, TimeLine
from introit.library.musical import meter
from introit.library.nodes import Mapping, Node
from introit.library.reading import Reading
from introit.theory.meter import Meter

INSTRUMENTS = ("ride", "bell", "hat", "closed", "stick")
"""Ride cymbal, its bell, hi-hat by the foot, closed hi-hat by the stick, cross-stick."""
FOURTH = "fourth"
ACCENT = "accent"
REST = "rest"
NEEDED = "lines of light time, such as `ride: 1, 2, &2, 3, 4, &4`"

_POSITION = re.compile(r"(&?)([1-9]\d?)")


def light_time(node: Node, reading: Reading) -> dict[Meter, tuple[TimeLine, ...]] | None:
    """A block of `meter: lines`."""
    if not isinstance(node, Mapping):
        message = f"a block is needed, each meter with its lines; {kind_of(node)} is given"
        reading.report(node.place, "wrong-type", message, "Begin with a line `4/4: |`.")
        return None
    report_repeated(node, reading)
    before = len(reading.problems)
    time: dict[Meter, tuple[TimeLine, ...]] = {}
    for name, value in node.entries:
        found = meter(name, reading)
        if found is not None:
            lines = music_lines(value, reading, needed=NEEDED) or []
            time[found] = _Lines(reading, found).read(lines)
    return time if len(reading.problems) == before else None


class _Lines:
    """Reads the lines of one meter; what it returns is whole only if it has reported nothing."""

    def __init__(self, reading: Reading, beats: Meter) -> None:
        self._reading = reading
        self._meter = beats

    def read(self, pieces: list[Piece]) -> tuple[TimeLine, ...]:
        plain: set[str] = set()
        lines = []
        for piece in pieces:
            line = self._line(piece)
            if line is None:
                continue
            if not line.fourth and line.instrument in plain:
                self._bad(
                    piece, f"{line.instrument!r} has a line already; its bars stand on one, with | between"
                )
            if line.fourth and line.instrument not in plain:
                self._bad(piece, f"{line.instrument!r} needs a line of its own before one for the fourth bar")
            plain |= set() if line.fourth else {line.instrument}
            lines.append(line)
        return tuple(lines)

    def _line(self, piece: Piece) -> TimeLine | None:
        head, colon, rest = piece.text.partition(":")
        if not colon:
            self._bad(piece, f"{piece.text!r}: a line begins with an instrument and a colon: `ride: 1`")
            return None
        fourth, instrument = self._head(Piece(head, piece.offset))
        if not instrument:
            return None
        body = trimmed(Piece(rest, piece.offset + len(head) + 1))
        bars = tuple(self._bar(bar) for bar in split(body, "|"))
        if fourth and len(bars) > 1:
            self._bad(piece, "the fourth bar is one bar; here are more")
        if not any(bars):
            self._bad(piece, f"{piece.text!r} has no stroke; leave the line out for none")
        return TimeLine(instrument, bars, fourth=fourth)

    def _head(self, piece: Piece) -> tuple[bool, str]:
        tokens = words(piece)
        fourth = bool(tokens) and tokens[0].text == FOURTH
        named = tokens[1:] if fourth else tokens
        if len(named) != 1 or named[0].text not in INSTRUMENTS:
            token = named[0] if named else piece
            message = f"{token.text!r} is no instrument of light time; they are {', '.join(INSTRUMENTS)}"
            self._bad(token, message, did_you_mean(token.text, (*INSTRUMENTS, FOURTH)))
            return fourth, ""
        return fourth, named[0].text

    def _bar(self, bar: Piece) -> tuple[Tap, ...]:
        taps: list[Tap] = []
        for piece in [] if bar.text == REST else split(bar, ","):
            tap = self._tap(piece)
            if tap and taps and tap.position <= taps[-1].position:
                self._bad(piece, f"{piece.text!r} does not come after what stands before it")
            elif tap:
                taps.append(tap)
        return tuple(taps)

    def _tap(self, piece: Piece) -> Tap | None:
        tokens = words(piece)
        if not tokens:
            self._bad(piece, "nothing stands here; a bar without a stroke is `rest`")
            return None
        found = _POSITION.fullmatch(tokens[0].text)
        if found is None or int(found[2]) > self._meter.beats:
            beats = self._meter.beats
            allowed = f"a beat is 1 to {beats}, the off-beat after it &1 to &{beats}"
            self._bad(tokens[0], f"{tokens[0].text!r} is no position in {self._meter}; {allowed}")
            return None
        if [token.text for token in tokens[1:]] not in ([], [ACCENT]):
            message = f"{tokens[1].text!r} cannot be read here; after a position only {ACCENT} is allowed"
            self._bad(tokens[1], message, did_you_mean(tokens[1].text, (ACCENT,)))
        return Tap(int(found[2]) - 1 + Fraction(len(found[1]), 2), accent=len(tokens) > 1)

    def _bad(self, piece: Piece, message: str, hint: str = "") -> None:
        self._reading.report(self._reading.place(piece.offset), "bad-figure", message, hint)
