"""Figures as text: comping hits and bass steps, one line a bar (motifs, of the same build: `motifs`).

A figure is a list of events with commas between them. An event begins with its position: `1` is beat one,
`&2` the off-beat after beat two. Lengths are in beats: `1`, `1.5`, `1/2`.

    comping   1 held, &2 short           held (until the next hit), short (half a beat) or a length;
                                         push (takes the coming chord early), accent; `rest` for an empty bar
    bass      1 root 2, &2 skip, 3 fifth position, tone, length (left out: until the next);
                                         push (takes the coming chord early), sometimes; `rest` as above
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import NamedTuple, TypeVar

from introit.errors import did_you_mean
from introit.library.fields import Reader
from introit.library.lines import Piece, music_lines, split, words
from introit.library.model import BassStep, Hit
from introit.library.nodes import Node
from introit.library.reading import Place, Reading

HIT_WORDS = ("held", "short", "push", "accent")
SKIP = "skip"
BASS_TONES = (
    "root",
    "third",
    "fifth",
    "seventh",
    "octave",
    "chord",
    "scale",
    "approach",
    "chromatic",
    "dominant",
    "enclosure",
    SKIP,
)
BASS_MARKS = ("push", "sometimes")
SHORT = Fraction(1, 2)
REST = "rest"

_POSITION = re.compile(r"(&?)([1-9]\d?)")
_LENGTH = re.compile(r"\d{1,2}(?:\.\d{1,4}|/[1-9]\d?)?")

T = TypeVar("T")


def hits_for(beats: int) -> Reader[tuple[tuple[Hit, ...], ...]]:
    """A reader of a comping rhythm of one or more bars of so many beats."""
    return figure_reader("a comping rhythm, such as `1 held, &2 short`", beats, Figure.hits)


class BassFigure(NamedTuple):
    """Steps with positions from the first bar's downbeat, and how many bars they fill."""

    bars: int
    steps: tuple[BassStep, ...]


def steps_for(beats: int) -> Reader[BassFigure]:
    """A reader of one or more bars of bass, of so many beats."""
    return figure_reader("a bass line, such as `1 root 2, 3 fifth 2`", beats, Figure.steps)


class Event(NamedTuple):
    """One event before it is understood.

    Attributes:
        piece: its text.
        position: beats from the start of its bar.
        rest: the words after the position.
    """

    piece: Piece
    position: Fraction
    rest: list[Piece]


def figure_reader(needed: str, beats: int, make: Callable[[Figure, list[Piece]], T]) -> Reader[T]:
    """A reader of a figure in bars of so many beats; `needed` describes it in messages."""

    def read(node: Node, reading: Reading) -> T | None:
        lines = music_lines(node, reading, needed=needed)
        if lines is None:
            return None
        before = len(reading.problems)
        made = make(Figure(reading, beats, node.place), lines)
        return made if len(reading.problems) == before else None

    return read


class Figure:
    """Reads the lines of one figure; what it returns is whole only if it has reported nothing."""

    def __init__(self, reading: Reading, beats: int, place: Place) -> None:
        self._reading = reading
        self._beats = beats
        self._place = place

    def hits(self, lines: list[Piece]) -> tuple[tuple[Hit, ...], ...]:
        """The hits of a comping rhythm, bar by bar."""
        bars = [self.events(line) for line in lines]
        onsets = [bar * self._beats + event.position for bar, events in enumerate(bars) for event in events]
        if not onsets:
            self._reading.report(
                self._place, "bad-figure", "a comping rhythm needs a hit in at least one bar"
            )
            return ()
        following = iter([*onsets[1:], onsets[0] + len(bars) * self._beats])
        return tuple(
            tuple(self._hit(event, next(following) - bar * self._beats) for event in events)
            for bar, events in enumerate(bars)
        )

    def steps(self, lines: list[Piece]) -> BassFigure:
        """Steps of all bars; one that is only played now and then takes no room from the one before it."""
        bars = [self.events(line) for line in lines]
        events = [(bar * self._beats, event) for bar, found in enumerate(bars) for event in found]
        firm = [start + event.position for start, event in events if not _now_and_then(event)]
        if not firm:
            message = (
                "a bass manner needs a note in at least one bar, not counting what is played now and then"
            )
            self._reading.report(self._place, "bad-figure", message)
            return BassFigure(len(bars), ())
        around = firm[0] + len(bars) * self._beats
        return BassFigure(
            len(bars),
            tuple(
                self._step(event, start, next((at for at in firm if at > start + event.position), around))
                for start, event in events
            ),
        )

    def events(self, line: Piece) -> list[Event]:
        """The events of one bar in rising order; what cannot be read is reported and left out."""
        events: list[Event] = []
        for piece in [] if line.text == REST else split(line, ","):
            event = self._event(piece)
            if event and events and event.position <= events[-1].position:
                self.bad(piece, f"{piece.text!r} does not come after {events[-1].piece.text!r}")
            elif event:
                events.append(event)
        return events

    def _event(self, piece: Piece) -> Event | None:
        tokens = words(piece)
        if not tokens:
            self.bad(piece, "nothing stands between two commas")
            return None
        found = _POSITION.fullmatch(tokens[0].text)
        if found is None:
            allowed = f"a beat is 1 to {self._beats}, the off-beat after it &1 to &{self._beats}"
            self.bad(tokens[0], f"{tokens[0].text!r} is no position; {allowed}")
            return None
        position = int(found[2]) - 1 + (SHORT if found[1] else Fraction(0))
        if position >= self._beats:
            message = f"{tokens[0].text!r} lies outside the bar, which has {self._beats} beats"
            self._reading.report(self._reading.place(tokens[0].offset), "bad-bar", message)
            return None
        return Event(piece, position, tokens[1:])

    def _hit(self, event: Event, following: Fraction) -> Hit:
        """A hit; `following` is where the next one comes, in beats from the start of this bar."""
        marks = {token.text for token in event.rest if token.text in HIT_WORDS}
        stated = [token for token in event.rest if token.text not in HIT_WORDS]
        push = "push" in marks
        end = following if push else min(following, Fraction(self._beats))
        length = self.length_within(stated, event, end, known=HIT_WORDS)
        if "short" in marks:
            length = min(SHORT, length)
        if len(stated[:1]) + len(marks & {"held", "short"}) > 1:
            self.bad(event.piece, "one of held, short and a length is enough")
        return Hit(event.position, length, push=push, accent="accent" in marks)

    def _step(self, event: Event, start: int, following: Fraction) -> BassStep:
        """A step of the bar that begins at beat `start`; `following` is where the next one comes."""
        tone = self._tone(event)
        marks = {token.text for token in event.rest[1:] if token.text in BASS_MARKS}
        stated = [token for token in event.rest[1:] if token.text not in BASS_MARKS]
        push = "push" in marks
        room = following if push else min(following, Fraction(start + self._beats))
        length = self.length_within(stated, event, room - start, known=BASS_MARKS)
        return BassStep(start + event.position, tone, length, push=push, sometimes=_now_and_then(event))

    def _tone(self, event: Event) -> str:
        if not event.rest or event.rest[0].text not in BASS_TONES:
            token = event.rest[0] if event.rest else event.piece
            message = f"{token.text!r}: after the position comes a bass tone: {', '.join(BASS_TONES)}"
            self.bad(token, message, did_you_mean(token.text, BASS_TONES))
        return event.rest[0].text if event.rest else ""

    def length_within(
        self, tokens: list[Piece], event: Event, end: Fraction, *, known: Sequence[str] = ()
    ) -> Fraction:
        """The length that the tokens state, or all that there is until `end`."""
        room = end - event.position
        if not tokens:
            return room
        token = tokens[0]
        if not _LENGTH.fullmatch(token.text) or not Fraction(token.text):
            also = f", or {', '.join(known)}" if known else ""
            message = f"{token.text!r} cannot be read here; a length in beats (1, 1.5, 1/2){also} is allowed"
            self.bad(token, message, did_you_mean(token.text, known))
            return room
        if tokens[1:]:
            self.bad(tokens[1], f"{tokens[1].text!r} is a word too many; a comma begins the next event")
        length = Fraction(token.text)
        if length > room:
            message = f"{event.piece.text!r} is too long: {float(room):g} beats are left for it"
            self._reading.report(self._reading.place(event.piece.offset), "bad-bar", message)
        return length

    def bad(self, piece: Piece, message: str, hint: str = "") -> None:
        """Reports a piece as one that cannot be read."""
        self._reading.report(self._reading.place(piece.offset), "bad-figure", message, hint)


def _now_and_then(event: Event) -> bool:
    """Whether a bass step is left out of some bars."""
    return any(token.text in {SKIP, "sometimes"} for token in event.rest)
