"""What goes out: the tracks that play, and each channel's program and level, told only when they change."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count
from typing import NamedTuple

from introit.live.cue import Cue, Rank
from introit.live.events import Hand
from introit.live.messages import CHANNEL_VOLUME, control, program
from introit.live.setup import Route
from introit.live.timeline import Timeline
from introit.live.tracks import Routed, Span, Step, Track, laid, routed
from introit.performance import Performance


class _Tone(NamedTuple):
    program: int | None
    level: int | None


class Outputs:
    """The session's side of the ports. Pure: it makes `Hand` effects and sends nothing.

    Cues for a port that has gone pass unheard; when it is back, it gets the later ones, and its programs
    again.

    Args:
        routes: where each part goes.
        lookaheads: each port's, in nanoseconds.
    """

    def __init__(self, routes: Sequence[Route], lookaheads: Sequence[int]) -> None:
        self._routes = routes
        self._lookaheads = tuple(lookaheads)
        self._sequence = count()
        self._tracks: list[Track] = []
        self._learned: tuple[Performance, Span] | None = None
        self._notes: tuple[tuple[Routed, ...], ...] = ()
        self._first: list[list[Step]] = []
        self._laid = 0
        self._gone: set[int] = set()
        self._told: dict[tuple[int, int], _Tone] = {}

    @property
    def longest_lookahead(self) -> int:
        """Nanoseconds after which everything handed so far has sounded."""
        return max(self._lookaheads, default=0)

    def prepare(self, now: int) -> list[Hand]:
        """Program and level (controller 7) of each channel in use, where they were last told otherwise."""
        cues: dict[int, list[Cue]] = {}
        for (port, channel), tone in self._wanted_tones().items():
            if port in self._gone:
                continue
            told = self._told.get((port, channel), _Tone(None, None))
            self._told[port, channel] = tone
            here = cues.setdefault(port, [])
            if tone.level is not None and tone.level != told.level:
                data = control(channel, CHANNEL_VOLUME, tone.level)
                here.append(Cue(now, Rank.CONTROL, next(self._sequence), data))
            if tone.program is not None and tone.program != told.program:
                here.append(Cue(now, Rank.PROGRAM, next(self._sequence), program(channel, tone.program)))
        return [Hand(port, tuple(sorted(here))) for port, here in sorted(cues.items()) if here]

    def learn(self, performance: Performance, span: Span) -> None:
        """Lays out ahead what a start of the performance plays first, so that it has only to be timed."""
        if self._learned is None or self._learned[0] is not performance or self._learned[1] != span:
            self._learned = performance, span
            self._notes = routed(performance, self._routes, len(self._lookaheads))
            self._first = [laid(notes, span) for notes in self._notes]

    def start(self, performance: Performance, timeline: Timeline, span: Span) -> None:
        """Makes the tracks of a performance; anything not taken from the last one is forgotten."""
        self.learn(performance, span)
        self._laid = max(map(len, self._notes), default=0)
        self._tracks = [
            Track(steps, timeline, lookahead=lookahead, sequence=self._sequence.__next__)
            for steps, lookahead in zip(self._first, self._lookaheads, strict=True)
        ]

    def extend(self, span: Span) -> None:
        """Lays another span of what is playing behind the last."""
        for track, notes in zip(self._tracks, self._notes, strict=True):
            track.extend(laid(notes, span, number=self._laid))
        self._laid += max(map(len, self._notes), default=0)

    def cut(self, tick: int) -> None:
        """Of what has not been handed over, nothing lasts or begins beyond a tick of the timeline."""
        for track in self._tracks:
            track.cut(tick)

    def retime(self, timeline: Timeline) -> None:
        """Sets what is playing on another timeline, which has not changed for what was handed over."""
        for track in self._tracks:
            track.retime(timeline)

    def stop(self) -> None:
        """Forgets what was not taken."""
        self._tracks = []

    def take(self, now: int) -> list[Hand]:
        """What is to be handed over by `now`, at most one `Hand` for each port."""
        hands = []
        for port, track in enumerate(self._tracks):
            cues = track.take(now)
            if cues and port not in self._gone:
                hands.append(Hand(port, cues))
        return hands

    @property
    def next_due(self) -> int | None:
        """When `take` next has something."""
        return min((due for track in self._tracks if (due := track.next_due) is not None), default=None)

    def gone(self, port: int) -> None:
        """Nothing is handed to the port until it is back."""
        self._gone.add(port)

    def back(self, port: int) -> None:
        """The port is there again, and knows nothing of what it was told."""
        self._gone.discard(port)
        self._told = {place: tone for place, tone in self._told.items() if place[0] != port}

    def _wanted_tones(self) -> dict[tuple[int, int], _Tone]:
        tones: dict[tuple[int, int], _Tone] = {}
        for route in self._routes:
            if not route.muted:
                first = tones.get((route.port, route.channel), _Tone(None, None))
                tones[route.port, route.channel] = _Tone(
                    route.program if first.program is None else first.program,
                    route.level if first.level is None else first.level,
                )
        return tones
