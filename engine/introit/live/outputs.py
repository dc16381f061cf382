"""What goes out: the tracks, the clock, and each channel's program and level, told only when they change."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import count

from introit.live.asides import Asides
from introit.live.clock_out import ClockOut
from introit.live.cue import Cue, Rank
from introit.live.events import Hand
from introit.live.messages import EXPRESSION, control
from introit.live.mix import Faders, Mix
from introit.live.playing import Playing, first_span
from introit.live.setup import ClockLead, Route
from introit.live.tones import Tones
from introit.live.tracks import Routed, Span, Step, Track, laid, routed
from introit.performance import Performance, PlayedNote


class Outputs:
    """The session's side of the ports. Pure: it makes `Hand` effects and sends nothing.

    Cues for a port that has gone pass unheard; when it is back, it gets the later ones, and its programs
    again.

    Args:
        routes: where each part goes.
        lookaheads: each port's, in nanoseconds.
        lead: where MIDI clock goes out; None for nowhere.
        mix: what orders had made of the rig's mix before; None for nothing.
        gentle: True to have the first sound come softly.
    """

    def __init__(
        self,
        routes: Sequence[Route],
        lookaheads: Sequence[int],
        lead: ClockLead | None = None,
        mix: Mix | None = None,
        *,
        gentle: bool = False,
    ) -> None:
        self._faders = Faders(routes, mix)
        # A part that the rig mutes is laid out like any other: an order may bring it in.
        muted_whole = {route.part for route in routes} - {route.part for route in routes if not route.muted}
        self._routes = tuple(
            replace(route, muted=False) if route.part in muted_whole else route for route in routes
        )
        self._lookaheads = tuple(lookaheads)
        self._sequence = count()
        self._tracks: list[Track] = []
        self._ringing: list[Track] = []
        self._learned: Performance | None = None
        self._routed: tuple[tuple[Routed, ...], ...] = ()
        self._first: list[list[Step]] = []
        # Apart from what was learned last: another tune may be made ready while this one goes round.
        self._notes: tuple[tuple[Routed, ...], ...] = ()
        self._laid = 0
        self._clocked = True
        self._gone: set[int] = set()
        self._tones = Tones(self._open(), self._sequence.__next__, gentle=gentle)
        self._levels_told = mix is None or not mix.levels
        self._asides = Asides(self._routes, self._lookaheads, self._sequence.__next__)
        self._clock: ClockOut | None = None
        if lead is not None:
            self._clock = ClockOut(lead, self._lookaheads[lead.port], self._sequence.__next__)

    def number(self) -> int:
        """The next cue's number, for whoever hands over beside it."""
        return next(self._sequence)

    @property
    def longest_lookahead(self) -> int:
        """Nanoseconds after which everything handed so far has sounded."""
        return max(self._lookaheads, default=0)

    def ahead(self, pace: Fraction) -> int:
        """Nanoseconds before it sounds at which whatever comes has to be known, at a pace in ns a tick."""
        return self.longest_lookahead + (0 if self._clock is None else self._clock.lead_time(pace))

    def prepare(self, now: int) -> list[Hand]:
        """How each channel in use is to sound, where that has not been told yet."""
        hands = self._tones.prepare(now, gone=self._gone)
        if not self._levels_told:
            self._levels_told = True
            hands += self._tell_levels(lambda _: True, now)
        return hands

    def _open(self) -> tuple[Route, ...]:
        """Where anything may be told now; see `mix.Faders`."""
        return tuple(route for route in self._routes if self._faders.is_open(route))

    def learn(self, performance: Performance) -> None:
        """Lays out ahead what a start of the performance plays first, so that it has only to be timed.

        From now on `prepare` tells how its tune sounds.
        """
        if self._learned is not performance:
            self._learned = performance
            self._tones.want(performance.sounds)
            self._routed = routed(performance, self._routes, len(self._lookaheads))
            self._first = [laid(notes, first_span(performance)) for notes in self._routed]

    def start(self, playing: Playing, now: int, *, clocked: bool = True) -> None:
        """Makes the tracks of a playing; anything not taken from the last one is forgotten.

        Args:
            playing: what begins.
            now: the present.
            clocked: False to leave those alone who play by our clock.
        """
        timeline = playing.timeline
        self._asides.end(playing.started)
        self._tones.begin(playing.started)
        self._clocked = clocked
        self.learn(playing.performance)
        self._notes = self._routed
        if self._clock is not None and clocked:
            self._clock.start(playing, now)
        self._laid = max(map(len, self._notes), default=0)
        self._tracks = [
            Track(steps, timeline, lookahead=lookahead, sequence=self._sequence.__next__)
            for steps, lookahead in zip(self._first, self._lookaheads, strict=True)
        ]
        for track in self._tracks:
            track.mute(self.muted, now)

    def extend(self, playing: Playing, now: int) -> None:
        """Lays another span of what is playing, its last, behind the one before."""
        self._lay(playing.span)
        self._lead_on(playing, now)

    def _lay(self, span: Span) -> None:
        for track, notes in zip(self._tracks, self._notes, strict=True):
            track.extend(laid(notes, span, number=self._laid))
        self._laid += max(map(len, self._notes), default=0)

    def change(self, performance: Performance, tick: int, *, span: Span | None) -> None:
        """Goes on in another performance, which has been learned, from a tick of the timeline on.

        Args:
            performance: what is played from there.
            tick: where what was played before is cut.
            span: what of it is laid there at once; None while that is still open.
        """
        self.learn(performance)
        self._notes = self._routed
        self.cut(tick)
        if span is not None:
            self._lay(span)

    def mute(self, part: int, muted: bool, now: int) -> list[Hand]:
        """A part is not heard, or heard again, from here on; it drops out within the lookahead.

        Returns:
            How it is to sound, where nothing has been told of it so far: the rig had it muted.
        """
        opened = self._faders.mute(part, muted)
        for track in (*self._tracks, *self._ringing):
            track.mute(self.muted, now)
        if not opened:
            return []
        self._tones.take_routes(self._open())
        if self._learned is None:
            return []
        hands = [*self.prepare(now), *self._tell_levels(lambda route: route.part == part, now)]
        if self._tracks:
            self._tones.begin(now)
        return hands

    @property
    def muted(self) -> frozenset[int]:
        """Indexes into `PARTS` of the parts that are muted, by the rig or by an order."""
        return self._faders.muted

    @property
    def mix(self) -> Mix:
        """What orders have made of the rig's mix."""
        return self._faders.mix

    def level(self, part: int, value: int, now: int) -> list[Hand]:
        """A part's expression (controller 11), which lies on top of its channel's level.

        Args:
            part: index into `PARTS`.
            value: 0 to 127; 127 is the channel's level.
            now: the present.
        """
        self._faders.set_level(part, value)
        return self._tell_levels(lambda route: route.part == part and not route.muted, now)

    def levels_again(self, port: int, now: int) -> list[Hand]:
        """What of the parts' levels a port was told, which is there again and knows nothing of it."""
        return self._tell_levels(lambda route: route.port == port, now)

    def tell_again(self, now: int) -> list[Hand]:
        """All that the ports were told of their sounds and levels, which they may have forgotten."""
        for port in range(len(self._lookaheads)):
            self._tones.forget(port)
        return [*self.prepare(now), *self._tell_levels(lambda _: True, now)]

    def _tell_levels(self, which: Callable[[Route], bool], now: int) -> list[Hand]:
        return [
            Hand(port, (Cue(now, Rank.CONTROL, self.number(), control(channel, EXPRESSION, value)),))
            for (port, channel), value in self._faders.levels(which)
            if port not in self._gone
        ]

    def cut(self, tick: int) -> None:
        """Of what has not been handed over, nothing lasts or begins beyond a tick of the timeline."""
        for track in self._tracks:
            track.cut(tick)

    def retime(self, playing: Playing, now: int) -> None:
        """Sets what is playing on its new timeline, which has not changed for what was handed over."""
        for track in self._tracks:
            track.retime(playing.timeline)
        self._lead_on(playing, now)

    def _lead_on(self, playing: Playing, now: int) -> None:
        if self._clock is not None and self._clocked:
            self._clock.follow(playing, now)

    def sound(self, notes: Sequence[PlayedNote], pace: Fraction, now: int) -> bool:
        """Sounds notes at once, beside what is playing; a start or a stop ends them.

        Args:
            notes: in ticks from 0; those of a part that the rig gives a channel of its own.
            pace: nanoseconds a tick.
            now: the present.

        Returns:
            Whether anything is to be heard: False where the rig sends none of it, or it is muted.
        """
        heard = [note for note in notes if note.part not in self.muted]
        self._tones.begin(now, {note.part for note in heard})
        return self._asides.sound(heard, pace, now)

    def let_ring(self, until: int) -> None:
        """What was played last may ring on while something else is made ready, until that begins."""
        self._ringing, self._tracks = self._tracks, []
        for track in self._ringing:
            track.end_by(until)

    def stop(self, now: int) -> None:
        """Forgets what was not taken."""
        self._asides.stop()
        self._tones.fall(now + self.longest_lookahead)  # what was handed and not taken back has passed
        self._tracks, self._ringing = [], []
        if self._clock is not None:
            self._clock.forget()

    def end_clock(self, now: int) -> list[Hand]:
        """The tune is left: nobody plays by our clock any more."""
        clock = self._clock
        cues = () if clock is None else clock.end(now)
        return [] if clock is None or not cues or clock.port in self._gone else [Hand(clock.port, cues)]

    def lose(self, port: int, start: int, end: int, now: int) -> None:
        """What was due on the port from `start` to `end` may be lost: the clock says anew where it is."""
        if self._clock is not None and self._clock.port == port:
            self._clock.lose(start, end, now)

    def take(self, now: int) -> list[Hand]:
        """What is to be handed over by `now`, at most one `Hand` for each port."""
        hands = []
        ticking = () if self._clock is None else self._clock.take(now)
        for port in range(len(self._lookaheads)):
            cues = self._tracks[port].take(now) if self._tracks else ()
            beside = self._asides.take(port, now)
            if self._ringing:
                beside = (*self._ringing[port].take(now), *beside)
            if ticking and self._clock is not None and port == self._clock.port:
                beside = (*beside, *ticking)
            beside = (*beside, *self._tones.take(port, now + self._lookaheads[port]))
            if beside:
                cues = tuple(sorted((*cues, *beside)))
            if cues and port not in self._gone:
                hands.append(Hand(port, cues))
        return hands

    @property
    def rings(self) -> bool:
        """Whether something of what was played last is still to be handed over."""
        return any(track.next_due is not None for track in self._tracks)

    @property
    def next_due(self) -> int | None:
        """When `take` next has something."""
        tracks = (*self._tracks, *self._ringing)
        dues = [self._asides.next_due, *(track.next_due for track in tracks)]
        if self._clock is not None:
            dues.append(self._clock.next_due)
        for port, lookahead in enumerate(self._lookaheads):
            told = self._tones.next_due(port)
            dues.append(None if told is None else told - lookahead)
        return min((due for due in dues if due is not None), default=None)

    def farewell(self, now: int) -> list[Hand]:
        """What is told last of all, when everything is silent."""
        return self._tones.end(now, gone=self._gone)

    def gone(self, port: int) -> None:
        """Nothing is handed to the port until it is back."""
        self._gone.add(port)

    def back(self, port: int, now: int) -> None:
        """The port is there again, and knows nothing of what it was told."""
        self._gone.discard(port)
        if self._clock is not None and port == self._clock.port:
            self._clock.locate(now)
        self._tones.forget(port)
