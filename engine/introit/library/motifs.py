"""The melody of an intro file: a word, or a motif written once as text.

A motif is one line, or two for two bars; notes have commas between them and say position, tone and length
(left out: until the next note). A line before them that begins with `pickup` holds the notes that lead into
its first bar, with their positions in the bar before, counted in the shortest of the intro's meters.

    pickup 4 5 1/2, &4 6 1/2
    1 1+ 1, &2 5 1/2, 3 3 1

Tones are degrees of the chord or of the key (`3`, `b9`; `5+` an octave up, `5-` an octave down), or, for a
contour, a degree of the first chord and then steps (`+1`, `-2`, `0`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from introit.library.fields import Fields, Reader, choice, listing, whole
from introit.library.figures import REST, Event, Figure, figure_reader
from introit.library.harmony import MOST_BARS
from introit.library.lines import Piece, trimmed
from introit.library.model import Melody, MotifNote
from introit.library.nodes import Mapping, Node
from introit.library.reading import Reading
from introit.theory.meter import Meter

MELODIES = ("line", "motif", "none")
TONES = ("chord", "key", "contour")
CHANGES = ("end", "octave", "inner", "none")
PICKUP = "pickup"
MOST_LINES = 2

_CHORD_DEGREE = re.compile(r"(?:bb|##|[b#])?(?:1[0-3]|[1-9])[+-]?")
_KEY_DEGREE = re.compile(r"[b#]?[1-7][+-]?")
_STEPS = re.compile(r"[+-][1-9]|0")
_OWN_KEYS = ("as", "motif", "bars", "change")


class _Tones(NamedTuple):
    """How a tone may be written."""

    pattern: re.Pattern[str]
    allowed: str


_AS_CHORD = _Tones(_CHORD_DEGREE, "a degree of the chord: 3, b9, 5+ (1 to 13)")
_FIRST_AND_AFTER = {
    "chord": (_AS_CHORD, _AS_CHORD),
    "key": (_Tones(_KEY_DEGREE, "a degree of the key: 3, b6, 5+ (1 to 7)"),) * 2,
    "contour": (_AS_CHORD, _Tones(_STEPS, "steps in the chord's scale: +1, -2, 0 (9 at most)")),
}


def melody_in(meters: Sequence[Meter]) -> Reader[Melody]:
    """A reader of a melody for an intro in these meters."""
    beats = min((one.beats for one in meters), default=4)

    def read(node: Node, reading: Reading) -> Melody | None:
        if not isinstance(node, Mapping):
            style = choice(("line", "none"))(node, reading)
            return None if style is None else Melody(style)
        before = len(reading.problems)
        fields = Fields(node, reading, what="a melody")
        style = fields.required("style", choice(MELODIES), "motif")
        tones = fields.optional("as", choice(TONES), "chord")
        melody = Melody(
            style=style,
            motif=fields.optional("motif", _motif_for(beats, tones), ()),
            tones=tones,
            bars=fields.optional("bars", listing(whole(1, MOST_BARS)), ()),
            change=fields.optional("change", choice(CHANGES), "end"),
        )
        fields.finish()
        if len(reading.problems) == before:
            _check(fields, melody, reading)
        return melody if len(reading.problems) == before else None

    return read


def _check(fields: Fields, melody: Melody, reading: Reading) -> None:
    """What the keys of a melody allow each by itself, and not together."""
    if melody.has_motif and not fields.has("motif"):
        reading.report(fields.place, "does-not-fit", "style motif needs a `motif`")
    for key in _OWN_KEYS:
        if not melody.has_motif and fields.has(key):
            message = f"`{key}` belongs to the style motif; this one is {melody.style}"
            reading.report(fields.place_of(key), "does-not-fit", message)
    if not reading.clean or not melody.has_motif:
        return
    if melody.change == "inner" and len(melody.motif) < 3:
        message = "change: inner needs a note between the first and the last; this motif has no such note"
        reading.report(fields.place_of("change"), "does-not-fit", message)
    crowded = [bar for bar in melody.bars if bar + 1 in melody.bars]
    if melody.motif_bars > 1 and crowded:
        message = f"the motif is two bars long; it cannot begin in bar {crowded[0]} and in the bar after it"
        reading.report(fields.place_of("bars"), "does-not-fit", message)


def _motif_for(beats: int, tones: str) -> Reader[tuple[MotifNote, ...]]:
    """A reader of a motif whose bars have so many beats."""

    def make(figure: Figure, lines: list[Piece]) -> tuple[MotifNote, ...]:
        return _notes(figure, lines, beats, _FIRST_AND_AFTER[tones])

    return figure_reader("a motif, such as `1 3 1/2, &1 5 1/2, 2 6 1`", beats, make)


def _notes(
    figure: Figure, lines: list[Piece], beats: int, tones: tuple[_Tones, _Tones]
) -> tuple[MotifNote, ...]:
    start = Fraction(0)
    events: list[tuple[Fraction, Event]] = []
    pickup = _after_pickup(lines[0])
    if pickup is not None:
        events += [(Fraction(-beats), event) for event in figure.events(pickup)]
        lines = lines[1:]
        if not lines:
            figure.bad(pickup, "a pick-up leads into a bar, and none follows")
    if len(lines) > MOST_LINES:
        figure.bad(lines[MOST_LINES], "a motif has one bar or two, a line each; a third begins here")
    for line in lines[:MOST_LINES]:
        events += [(start, event) for event in figure.events(line)]
        start += beats
    onsets = [begin + event.position for begin, event in events]
    made: list[MotifNote] = []
    for index, ((begin, event), end) in enumerate(
        zip(events, [*onsets[1:], start][: len(onsets)], strict=True)
    ):
        tone = _tone(figure, event, tones[bool(index)])
        length = figure.length_within(event.rest[1:], event, end - begin)
        bar = max(0, int(begin // beats))
        made.append(MotifNote(bar, onsets[index] - bar * beats, tone, length))
    if lines and all(line.text == REST for line in lines):
        figure.bad(lines[0], "at least one note is needed")
    return tuple(made)


def _after_pickup(line: Piece) -> Piece | None:
    """What stands on a line after the word `pickup`; None where it does not begin with that word."""
    if line.text.split(maxsplit=1)[:1] != [PICKUP]:
        return None
    return trimmed(Piece(line.text[len(PICKUP) :], line.offset + len(PICKUP)))


def _tone(figure: Figure, event: Event, tones: _Tones) -> str:
    if event.rest and tones.pattern.fullmatch(event.rest[0].text):
        return event.rest[0].text
    token = event.rest[0] if event.rest else event.piece
    figure.bad(token, f"{token.text!r}: after the position comes {tones.allowed}")
    return ""
