"""One playing of a performance: what of it comes next, where time waits, its beats, and where it lands."""

from __future__ import annotations

from fractions import Fraction
from typing import Final, NamedTuple

from introit.live.spans import Spans
from introit.live.tempo import Pace, pace_at, paced, ramp
from introit.live.timeline import Timeline
from introit.live.tracks import Span
from introit.live.waiting import Waiting
from introit.performance import ChordMark, Performance
from introit.units import NS_PER_MINUTE, TICKS_PER_QUARTER, ns_per_tick

NEVER: Final = 1 << 62
"""Nanoseconds that no clock reaches."""
_EARLY: Final = TICKS_PER_QUARTER
"""Ticks before a bar line at which the earliest that belongs to it begins; before the first there is none."""


class Beat(NamedTuple):
    """A beat as it is shown.

    Attributes:
        ns: when it falls.
        bar: from 1; 0 or less in the count-off.
        beat: of the bar, from 1.
        beats_to_head: beats from this one to the head's downbeat, as it is now known.
        chord: the chord at this beat; empty texts in the count-off.
    """

    ns: int
    bar: int
    beat: int
    beats_to_head: int
    chord: ChordMark


class Playing:
    """A performance set on the clock. Pure.

    Its ticks are the timeline's; bars that go round are laid behind each other there, as `Span`s. Where what
    follows is open (the end of a vamp; the head, while another round may be asked for) it is decided as late
    as can be: before the first note that belongs to what follows has to be handed over.

    Attributes:
        performance: what is played.
        timeline: ticks to nanoseconds; held where the next wait is.
        started: when its first tick falls (the count-off's, if it has one).
        downbeat: when the intro's first downbeat falls.
        nodded: True once the vamp is to be left.
        again: True while another round is asked for.
        ordered_tempo: quarter notes a minute that the player has ordered meanwhile; None for none.
    """

    def __init__(
        self, performance: Performance, start: int, *, tempo: float | None = None, ahead: int = 0
    ) -> None:
        """Sets it on the clock.

        Args:
            performance: what is played.
            start: when its first tick falls.
            tempo: quarter notes a minute; the performance's own when left out.
            ahead: nanoseconds by which cues are handed over before they sound.
        """
        self.performance = performance
        self.pace: Fraction = ns_per_tick(tempo or performance.tempo)
        self.started = start
        self.nodded = self.again = False
        self.ordered_tempo: float | None = None
        self._ahead = ahead
        self._reach = _reach(performance)
        self._waiting = Waiting(performance.waits, tapped_on=performance.tapped_on)
        self.timeline = Timeline.starting(performance.start_tick, start, self.pace)
        self._spans = Spans(first_span(performance), performance.chords)
        downbeat = self.timeline.ns(0)
        assert downbeat is not None  # nothing holds it yet
        self.downbeat = downbeat
        self._next_tick = -(-performance.start_tick // TICKS_PER_QUARTER) * TICKS_PER_QUARTER
        self.timeline = self._waiting.hold(self.timeline)

    @property
    def next_due(self) -> int | None:
        """When something happens next, as far as is known."""
        dues = (self.decided_at, self.next_beat, self.landing, self.arrival)
        return min((due for due in dues if due is not None), default=None)

    # --- what comes next ----------------------------------------------------------------------------

    @property
    def span(self) -> Span:
        """What was laid last."""
        return self._spans.last

    @property
    def vamping(self) -> bool:
        """Whether it goes round until the nod."""
        return self.performance.vamp is not None and not self.nodded and not self._waiting

    @property
    def round_bars(self) -> tuple[int, int]:
        """First and last of the bars that go round until the nod, from 1; zeros where none do."""
        if not self.vamping:
            return 0, 0
        start, end = _round(self.performance)
        return start // self.performance.bar_ticks + 1, end // self.performance.bar_ticks

    @property
    def decided_at(self) -> int | None:
        """When what follows the last span must be decided; None when nothing is open."""
        end = self._spans.open_tick
        if end is None:
            return None
        falls = self.timeline.ns(end - self._reach)
        return None if falls is None else falls - self._ahead

    def decide(self) -> None:
        """Another round, or what comes behind it, is the last span now. While something is open."""
        end, at = self.span.end, self._spans.open_tick
        assert end is not None
        assert at is not None
        goes_round, self.again = self._goes_round, False
        round_start, round_end = _round(self.performance)
        if goes_round and end < round_end:
            following = Span(end, _open_end(self.performance, end), at, joined=True)
        elif goes_round:
            following = Span(round_start, _open_end(self.performance, round_start), at, joined=True)
        else:
            following = Span(round_end, None, at, joined=True)
        self._spans.follow(following)

    @property
    def _goes_round(self) -> bool:
        """Whether another round follows, as things stand."""
        return self.vamping or self.again

    def may_ask_again(self, now: int) -> bool:
        """Whether another round can still be asked for: until a beat before what follows is decided."""
        decided = self.decided_at
        beat = round(TICKS_PER_QUARTER * self.pace)
        return self.performance.once_more and decided is not None and now + beat <= decided

    def finish_early(self, now: int) -> int | None:
        """Makes the last bar the last span, from the next bar line on that can still be reached.

        Returns:
            The timeline's tick at which all else is to be cut; None where there is nothing to leave out, and
            where the player was not given that freedom.
        """
        if self._waiting or not (self.performance.once_more or self.performance.vamp):
            return None
        last_bar = self.performance.head_tick - self.performance.bar_ticks
        at = self._next_line(now)
        if at is None or self._spans.score(at) >= last_bar:
            return None
        self.nodded, self.again = True, False
        self._spans.lay(Span(last_bar, None, at, joined=True))
        return at

    def re_key(self, performance: Performance, now: int) -> int | None:
        """Goes on in another performance of the same intro, from the next bar line that can be reached.

        Returns:
            The timeline's tick at which all else is to be cut; None where it is too late, or where the two
            have not the same form.
        """
        at, opens = self._next_line(now), self._spans.open_tick
        if at is None or self._waiting.being_tapped or not _alike(self.performance, performance):
            return None
        at = max(at, self.span.at)
        laid = opens is None or at < opens
        head = performance.head_tick
        if self._spans.score(at) >= head and (laid or not self._goes_round):
            return None
        self.performance = performance
        self._reach = max(self._reach, _reach(performance))
        if laid:
            self._spans.lay(Span(self._spans.score(at), self.span.end, at, joined=True, struck=True))
        elif opens is not None:
            at = opens  # what is laid there next is the new one's
        self._spans.re_chord(at, performance.chords)
        self.timeline = self._waiting.change(performance.waits, self.timeline)
        return at

    def _next_line(self, now: int) -> int | None:
        """The timeline's tick of the next bar line of which nothing has been handed over."""
        bar = self.performance.bar_ticks
        at = -(-max(0, self.timeline.tick(now)) // bar) * bar
        while (line := self.timeline.ns(at - _EARLY * (at > 0))) is not None and line - self._ahead < now:
            at += bar  # what takes its chord early may have been handed over
        return None if line is None or self.timeline.ns(at) is None else at

    # --- how fast it goes ---------------------------------------------------------------------------

    @property
    def tempo(self) -> float:
        """Quarter notes a minute, where time goes on."""
        return float(NS_PER_MINUTE / (self.pace * TICKS_PER_QUARTER))

    def nudge(self, tempo: float, now: int, *, ahead: int) -> None:
        """Goes over to another tempo within a beat, from what is to be handed over next.

        Args:
            tempo: quarter notes a minute.
            now: the present.
            ahead: nanoseconds by which cues are handed over at that tempo.
        """
        first = self.timeline.tick(max(now + max(ahead, self._ahead), self.started)) + 1
        before, after = pace_at(self.timeline, first) or self.pace, ns_per_tick(tempo)
        self._set_paces(ramp(first, before, after), ahead)
        self.ordered_tempo = tempo

    def re_tempo(self, tempo: float, now: int, *, ahead: int) -> bool:
        """Takes another tempo at the next bar line that can be reached; False where there is none.

        The arguments are those of `nudge`.
        """
        self._ahead = max(ahead, self._ahead)
        at = self._next_line(now)
        if at is not None:
            self._set_paces([Pace(at, ns_per_tick(tempo))], ahead)
            self.ordered_tempo = tempo
        return at is not None

    def _set_paces(self, paces: list[Pace], ahead: int) -> None:
        self.timeline = paced(self.timeline, paces, arrived=self._waiting.arrived)
        self.pace, self._ahead = paces[-1].pace, ahead
        self.downbeat = self.timeline.ns(0) or self.downbeat

    # --- where time waits ---------------------------------------------------------------------------

    @property
    def arrival(self) -> int | None:
        """When the playing arrives where time waits; None when it has arrived, or does not wait."""
        return self._waiting.arrival(self.timeline)

    def arrive(self) -> None:
        """The playing has arrived."""
        self._waiting.arrived = True

    def go_on(self, ns: int) -> None:
        """Time goes on at `ns`, at the arrival or later."""
        self._skip_to(self.resumes)
        self.timeline = self._waiting.go_on(self.timeline, ns, self.pace)

    def keep_time(self, now: int) -> None:
        """From here on time waits for nothing but a held chord."""
        arrival = self.timeline.arrival
        if arrival is not None and arrival <= now:
            self._skip_to(self.resumes)
        self.timeline = self._waiting.keep_time(self.timeline, now, self.pace)

    def in_held_chord(self, now: int) -> bool:
        """Whether the chord that will be held has begun, and time does not wait at it yet."""
        arrival = self.arrival
        if arrival is None or self.out_of_time:
            return False
        # Where time waits nothing goes round: the score's ticks are the timeline's.
        begun = self._spans.chord(self.timeline.segments[-1].tick).tick
        return self.timeline.tick(now) >= begun

    @property
    def taps_on(self) -> bool:
        """Whether a bar is to be tapped before time goes on from where it waits next."""
        return self._waiting.taps_on

    @property
    def being_tapped_on(self) -> bool:
        """Whether such a bar is being tapped."""
        return self._waiting.being_tapped

    def begin_taps(self) -> None:
        """A bar is being tapped; until its tempo is known, nobody knows when time goes on."""
        self._waiting.begin_taps(self.timeline)
        self.downbeat = NEVER

    def enter_at(self, ns: int, tempo: float, *, ahead: int) -> None:
        """Time goes on at `ns`, at a tempo in quarter notes a minute; `ahead` as in `nudge`."""
        self.pace, self._ahead = ns_per_tick(tempo), ahead
        self.timeline = self._waiting.tapped(ns, self.pace)
        self._skip_to(self.resumes)
        self.downbeat = self.timeline.ns(self.resumes or 0) or ns

    def enter(self) -> None:
        """What was tapped is over: time goes on."""
        self._waiting.enter()

    def forget_taps(self) -> None:
        """The taps led nowhere: it waits as before."""
        self.timeline = self._waiting.forget_taps(self.timeline)

    @property
    def waits(self) -> bool:
        """Whether time waits somewhere from here."""
        return bool(self._waiting)

    @property
    def resumes(self) -> int | None:
        """Tick at which time goes on from where it waits next; None where it does not wait."""
        return self._waiting.resumes

    @property
    def out_of_time(self) -> bool:
        """Whether each press plays the next chord: until time is kept, or waits for a held chord alone."""
        return self.performance.out_of_time and self._waiting.free

    def _skip_to(self, tick: int | None) -> None:
        """What beats time passes over are not told."""
        if tick is not None:
            self._next_tick = max(self._next_tick, -(-tick // TICKS_PER_QUARTER) * TICKS_PER_QUARTER)

    # --- beats and landing --------------------------------------------------------------------------

    @property
    def head(self) -> int | None:
        """The timeline's tick of the head's downbeat; None while that is open."""
        head, span = self.performance.head_tick, self.span
        return None if span.end is not None or span.start > head else span.at + head - span.start

    @property
    def landing(self) -> int | None:
        """When the head's downbeat falls; None while that is open, or time waits before it."""
        head = self.head
        return None if head is None else self.timeline.ns(head)

    @property
    def over(self) -> int | None:
        """When a bar has passed since the head's downbeat, and what rings beyond it has ended."""
        head, performance = self.head, self.performance
        rings = performance.end_tick - performance.head_tick
        return None if head is None else self.timeline.ns(head + max(performance.bar_ticks, rings))

    @property
    def rested(self) -> int | None:
        """When the rest after the head's downbeat is over; None without one, and while the head is open."""
        head, rest = self.head, self.performance.rest
        return None if head is None or not rest else self.timeline.ns(head + rest)

    @property
    def expected_head(self) -> int | None:
        """The tick of the head's downbeat, if nothing more is asked for; None while it goes round."""
        opens, span = self._spans.open_tick, self.span
        if opens is None or span.end is None or self._goes_round:
            return self.head
        return opens + self.performance.head_tick - _round(self.performance)[1]

    def in_last_bar(self, now: int) -> bool:
        """Whether the bar before the head has come, as things stand."""
        head = self.expected_head
        return head is not None and self.timeline.tick(now) >= head - self.performance.bar_ticks

    @property
    def next_beat(self) -> int | None:
        """When the next beat before the head falls; None when there is none, as far as is known."""
        tick = self._next_tick
        if self._spans.open_tick is not None and tick >= self._spans.open_tick:
            return None
        return self.timeline.ns(tick) if self._spans.score(tick) < self.performance.head_tick else None

    def take_beat(self) -> Beat:
        """The next beat, each told once."""
        tick, performance = self._next_tick, self.performance
        self._next_tick += TICKS_PER_QUARTER
        score = self._spans.score(tick)
        bar, beat = divmod(score // TICKS_PER_QUARTER, performance.beats)
        round_start, round_end = _round(performance)
        more = round_end - round_start if self.again and self._spans.open_tick is not None else 0
        expected = self.expected_head
        left = performance.head_tick + more - score if expected is None else expected - tick
        to_head = -(-left // TICKS_PER_QUARTER)
        ns = self.timeline.ns(tick)
        assert ns is not None
        return Beat(ns, bar + 1, beat + 1, to_head, self._spans.chord(tick))


def _alike(one: Performance, other: Performance) -> bool:
    """Whether two performances are the same intro in the same form, so that one can go on in the other."""

    def form(performance: Performance) -> tuple[object, ...]:
        return (
            performance.intro,
            performance.beats,
            performance.head_tick,
            performance.vamp,
            performance.exits,
            [wait.fermata for wait in performance.waits],
        )

    return form(one) == form(other)


def first_span(performance: Performance) -> Span:
    """What is played first: up to where what follows is open, which it is where it may go round."""
    start = performance.start_tick
    is_open = (performance.vamp or performance.once_more) and not performance.waits
    return Span(start, _open_end(performance, start) if is_open else None, start)


def _round(performance: Performance) -> tuple[int, int]:
    """First tick and end of the bars that go round."""
    return performance.vamp or (0, performance.head_tick)


def _open_end(performance: Performance, start: int) -> int:
    """Where what is laid from `start` on ends: at the next exit, or with the bars that go round."""
    return next((tick for tick in performance.exits if tick > start), _round(performance)[1])


def _reach(performance: Performance) -> int:
    """Ticks by which notes take the chord at either end of the round early."""
    borders = (*_round(performance), *performance.exits)
    return max(
        (
            border - note.onset
            for note in performance.notes
            for border in borders
            if 0 <= note.onset < border <= note.harmony_tick
        ),
        default=0,
    )
