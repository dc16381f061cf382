"""Spans of a score laid behind each other on the timeline, and the chords that are shown with them. Pure."""

from __future__ import annotations

from bisect import bisect_right

from introit.live.tracks import Span
from introit.performance import ChordMark

_NO_CHORD = ChordMark(0, "", "")


class Spans:
    """What of the score is played when: the way between the timeline's ticks and the score's.

    Args:
        first: what is played first.
        chords: of the score, ordered by tick.
    """

    def __init__(self, first: Span, chords: tuple[ChordMark, ...]) -> None:
        self._spans = [first]
        self._chords = [(first.at, chords)]

    @property
    def last(self) -> Span:
        """What was laid last."""
        return self._spans[-1]

    @property
    def open_tick(self) -> int | None:
        """The timeline's tick at which what follows the last span is open; None where it has no end."""
        span = self.last
        return None if span.end is None else span.at + span.end - span.start

    def follow(self, span: Span) -> None:
        """Lays a span behind the last."""
        self._spans.append(span)

    def lay(self, span: Span) -> None:
        """Lays a span over what lies there from its tick on."""
        kept = [before for before in self._spans if before.at < span.at]
        if kept:
            kept[-1] = kept[-1]._replace(end=kept[-1].start + span.at - kept[-1].at)
        self._spans = [*kept, span]

    def re_chord(self, at: int, chords: tuple[ChordMark, ...]) -> None:
        """From a tick of the timeline on, the chords are those of another score."""
        self._chords.append((at, chords))

    def score(self, tick: int) -> int:
        """The tick of the score that is played at one of the timeline."""
        span = self._spans[max(0, bisect_right(self._spans, tick, key=_at) - 1)]
        return tick - span.at + span.start

    def chord(self, tick: int) -> ChordMark:
        """The chord that is played at a tick of the timeline; one without a name in the count-off."""
        chords = next((chords for at, chords in reversed(self._chords) if at <= tick), ())
        at = bisect_right(chords, self.score(tick), key=lambda chord: chord.tick)
        return chords[at - 1] if at else _NO_CHORD


def _at(span: Span) -> int:
    return span.at
