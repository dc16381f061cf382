"""The course of what plays: how it starts, what the foot and a leader change in it, how it ends."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from introit.live.clock_in import ClockIn
from introit.live.events import Effect, Heard, Silence
from introit.live.looping import looped
from introit.live.messages import CLOCK
from introit.live.outputs import Outputs
from introit.live.playing import Playing
from introit.live.setup import Setup
from introit.live.states import State
from introit.live.tapping import Tapping
from introit.performance import Performance, PlayedNote
from introit.units import TICKS_PER_QUARTER, ns_per_tick


class Course:
    """At most one playing, and the outputs that it goes to. Pure: time comes with each call.

    Args:
        setup: routes and clocks.
        lookaheads: each port's, in nanoseconds.
        effects: what is to be done; more is appended.

    Attributes:
        outputs: where it goes.
        playing: what plays; None while nothing does.
        tapping: the count-off that is being tapped.
        whole: what was made to go round, as it was before; None while nothing was.
    """

    def __init__(self, setup: Setup, lookaheads: Sequence[int], effects: list[Effect]) -> None:
        self.outputs = Outputs(setup.routes, lookaheads, setup.lead, setup.mix, gentle=setup.gentle_start)
        self.playing: Playing | None = None
        self.tapping: Tapping | None = None
        self.whole: Performance | None = None
        self._effects = effects
        self._leader = None if setup.follow is None else ClockIn(setup.follow)
        self._pressed_early = False
        self._clear_at = 0
        self._landed_pace = Fraction(0)

    @property
    def next_due(self) -> int | None:
        """When something happens in it next: a decision, a beat, an arrival, the landing, taps forgotten."""
        dues = (
            None if self.playing is None else self.playing.next_due,
            None if self.tapping is None else self.tapping.next_due,
        )
        return min((due for due in dues if due is not None), default=None)

    @property
    def state(self) -> State:
        """The state that what plays is in, once it has been counted off."""
        playing = self.playing
        if playing is None:
            return State.READY
        if playing.performance.rest:
            return State.PRACTISING
        if playing.vamping:
            return State.VAMPING
        return State.OUT_OF_TIME if playing.out_of_time else State.PLAYING

    @property
    def beat_ns(self) -> int:
        """Nanoseconds of a beat of what plays, or of what has landed last."""
        pace = self._landed_pace if self.playing is None else self.playing.pace
        return round(TICKS_PER_QUARTER * pace)

    # --- how it starts ------------------------------------------------------------------------------

    def start(self, performance: Performance, ns: int, now: int) -> tuple[State, int, str]:
        """Starts a performance; `ns` is when that was wished for.

        Returns:
            The state that begins, when it does, and a sentence for the player.
        """
        self._effects += self.outputs.take(now)  # what was left of the last intro: its offs
        if self.outputs.rings:  # a landing
            self.hush(now)
        earliest, note = max(now, self._clear_at), ""
        if self._leader is not None:
            entry = self._leader.enter(performance, earliest)
            self._leader.follow(entry)
            if entry is not None:
                self._play(performance, entry.ns, now, tempo=entry.tempo)
                return State.COUNTING_OFF, now, ""
            note = "no clock to follow; in its own time"
        if performance.tapped:
            self.tapping = Tapping(performance.tempo, performance.beats)
            self.tapping.tap(ns)
            return State.TAPPING, ns, note
        playing = self._play(performance, earliest, now)
        state = State.COUNTING_OFF if performance.start_tick < 0 else self.state
        return state, playing.started, note

    def begin(self, performance: Performance, ns: int, now: int) -> None:
        """What follows a rest begins by itself at `ns`, in its own time and no leader's; what rings ends."""
        if self._leader is not None:
            self._leader.follow(None)
        self.leave_tune(now)
        self._effects += self.outputs.take(now)
        start = max(ns, now, self._clear_at)
        self.outputs.let_ring(start)
        self._play(performance, start, now)

    def tap(self, performance: Performance, ns: int, now: int) -> str:
        """One tap of the count-off; what it tells counts until the downbeat has been handed over.

        Returns:
            A sentence for the player, once the count is known.
        """
        if self.tapping is None:
            return ""
        self.tapping.tap(ns)
        entry, playing = self.tapping.entry, self.playing
        late = playing is not None and playing.downbeat <= now + self.outputs.ahead(playing.pace)
        if entry is None or late:
            return ""
        if playing is not None and playing.being_tapped_on:
            playing.enter_at(
                max(entry.downbeat, now), entry.tempo, ahead=self.outputs.ahead(ns_per_tick(entry.tempo))
            )
            self.outputs.retime(playing, now)
        else:
            self._play(performance, max(entry.downbeat, now, self._clear_at), now, tempo=entry.tempo)
        return f"tapped: {entry.tempo:.0f} a minute"

    def tap_on(self, playing: Playing, ns: int) -> None:
        """The first tap of a bar after which time goes on."""
        playing.begin_taps()
        self.tapping = Tapping(playing.tempo, playing.performance.beats)
        self.tapping.tap(ns)

    def tapped(self, playing: Playing) -> None:
        """The downbeat that was tapped has come."""
        if self.tapping is not None and playing.being_tapped_on:
            playing.enter()
        self.tapping = None

    def forget_taps(self, playing: Playing) -> State:
        """The taps led nowhere; the state that is gone back to."""
        self.tapping = None
        playing.forget_taps()
        return State.OUT_OF_TIME if playing.out_of_time else State.WAITING

    def loop(self, performance: Performance, ticks: tuple[int, int], now: int) -> tuple[State, int]:
        """Some bars go round from now on, in their own time; who plays by our clock is left alone.

        Args:
            performance: what they are of.
            ticks: their first tick and end.
            now: the present.

        Returns:
            The state that begins, and when it does.
        """
        if self.playing is not None or self.tapping is not None:
            self.silence(now)
        self._effects += self.outputs.take(now)
        if self.outputs.rings:
            self.hush(now)
        if self._leader is not None:
            self._leader.follow(None)
        playing = self._play(looped(performance, ticks), max(now, self._clear_at), now, clocked=False)
        self.whole = performance
        return self.state, playing.started

    def check(self, performance: Performance, now: int) -> None:
        """Plays a sound check; who plays by our clock is left alone."""
        self.hush(now)
        self.playing = Playing(performance, self._clear_at, ahead=self.outputs.longest_lookahead)
        self.outputs.start(self.playing, now, clocked=False)

    def aside(self, notes: Sequence[PlayedNote], performance: Performance, now: int) -> bool:
        """Sounds notes that belong to a performance, for one ear; whether there is anything to be heard."""
        return bool(notes) and self.outputs.sound(notes, ns_per_tick(performance.tempo), now)

    def _play(
        self,
        performance: Performance,
        start: int,
        now: int,
        *,
        tempo: float | None = None,
        clocked: bool = True,
    ) -> Playing:
        self._pressed_early, self.whole = False, None
        ahead = self.outputs.ahead(ns_per_tick(tempo or performance.tempo))
        self.playing = playing = Playing(performance, start, tempo=tempo, ahead=ahead)
        self.outputs.start(playing, now, clocked=clocked)
        return playing

    # --- what changes it ----------------------------------------------------------------------------

    def hear_leader(self, event: Heard, now: int) -> None:
        """Takes in a clock message of the leader's, and keeps what plays with it."""
        if self._leader is None or event.port != self._leader.port:
            return
        self._leader.hear(event.data, event.ns)
        playing = self.playing
        if playing is None or event.data != CLOCK:
            return
        handed = max(now + self.outputs.ahead(playing.pace), playing.started)
        if self._leader.steer(playing, horizon=handed, now=now):
            self.outputs.retime(playing, now)

    def decide(self, playing: Playing, now: int) -> None:
        """What follows the last span that was laid can be left open no longer."""
        playing.decide()
        self.outputs.extend(playing, now)

    def finish_early(self, playing: Playing, now: int) -> bool:
        """The last bar follows at the next bar line; False where there is nothing to leave out."""
        playing.again = False
        line = playing.finish_early(now)
        if line is not None:
            self.outputs.cut(line)
            self.outputs.extend(playing, now)
        return line is not None

    def re_key(self, playing: Playing, performance: Performance, now: int) -> bool:
        """Goes on in another performance from the next bar line; False where that cannot be."""
        vamp = playing.performance.vamp
        if self.whole is not None and vamp is not None:  # the same bars go round in it
            whole, performance = performance, looped(performance, vamp)
        else:
            whole = None
        line = playing.re_key(performance, now)
        if line is None:
            return False
        self.whole = whole
        laid = playing.span.at == line  # else what begins there is still open
        self.outputs.change(performance, line, span=playing.span if laid else None)
        self.outputs.retime(playing, now)
        return True

    @property
    def awaits_leader(self) -> bool:
        """Whether a tune whose count-off is tapped is waiting for a leader's downbeat instead."""
        playing = self.playing
        return playing is not None and playing.performance.tapped and self.tapping is None

    def nudge(self, playing: Playing, tempo: float, now: int) -> None:
        """Goes over to another tempo within a beat."""
        playing.nudge(tempo, now, ahead=self.outputs.ahead(ns_per_tick(tempo)))
        self.outputs.retime(playing, now)

    def re_tempo(self, playing: Playing, tempo: float, now: int) -> bool:
        """Takes another tempo at the next bar line; False where there is none before the head."""
        if not playing.re_tempo(tempo, now, ahead=self.outputs.ahead(ns_per_tick(tempo))):
            return False
        self.outputs.retime(playing, now)
        return True

    @property
    def follows(self) -> bool:
        """Whether what plays keeps to a leader's clock, so that the tempo is not ours."""
        waits = self.playing is not None and self.playing.performance.waits
        return self._leader is not None and self._leader.leads and not waits

    def arrive(self, playing: Playing, now: int) -> bool:
        """The playing has come to where time waits; True where a press had come before, and it goes on."""
        playing.arrive()
        if self._pressed_early:
            self.go_on(playing, now)
            return True
        return False

    def go_on(self, playing: Playing, now: int) -> bool:
        """Time goes on; False where it will as soon as the playing has arrived where it waits."""
        if playing.arrival is not None:
            self._pressed_early = True
            return False
        self._pressed_early = False
        playing.go_on(now)
        self.outputs.retime(playing, now)
        return True

    def keep_time(self, playing: Playing, now: int) -> None:
        """From here on it is played in time."""
        self._pressed_early = False
        playing.keep_time(now)
        self.outputs.retime(playing, now)

    # --- how it ends --------------------------------------------------------------------------------

    def land(self) -> None:
        """The head's downbeat: what rings on is all that is left."""
        if self.playing is not None:
            self._landed_pace = self.playing.pace
        self.playing = None

    def silence(self, now: int) -> None:
        """Nothing plays any more, nor will."""
        self.playing = self.tapping = self.whole = None
        self.hush(now)

    def hush(self, now: int) -> None:
        """What sounds ends, and what was handed over is withdrawn as far as can be."""
        self.outputs.stop(now)
        self._effects.append(Silence())
        self._wait_until_clear(now)

    def leave_tune(self, now: int) -> None:
        """Nobody plays by our clock any more."""
        if ended := self.outputs.end_clock(now):
            self._effects += ended
            self._wait_until_clear(now)

    def _wait_until_clear(self, now: int) -> None:
        """What could not be withdrawn still passes; nothing new may start among it."""
        self._clear_at = now + self.outputs.longest_lookahead
