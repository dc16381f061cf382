"""The session: a plain state machine from what is heard to what is to be done; opens nothing, asks no clock.

What a gesture does in which state, and when it may, is read from `states.TABLE`; here is only how it is done.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from introit.live.choice import Choice
from introit.live.clock_in import ClockIn
from introit.live.display import shown
from introit.live.events import (
    Back,
    Effect,
    Event,
    Gone,
    Heard,
    Lost,
    Plugged,
    Quit,
    Ready,
    Refused,
    Request,
    Silence,
    Unplugged,
)
from introit.live.foot import Edge, FootReader, Move, can_be_held
from introit.live.gestures import Gestures, Told
from introit.live.keynote import KeyNamer
from introit.live.messages import CLOCK, ChannelMessage, parse
from introit.live.outputs import Outputs
from introit.live.playing import Beat, Playing
from introit.live.port_news import PortNews
from introit.live.setup import Setup
from introit.live.states import Action, Gesture, Guard, State, row_for
from introit.live.tapping import Tapping
from introit.performance import Performance
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER, ns_per_tick

REMEMBERED_NS: Final = 500 * NS_PER_MS
"""How long a start is remembered when what is to be started has not been arranged yet."""


class Session:
    """One evening at the player: from ready through count-off and intro into the tune, and round again.

    `hear` takes what came in, `take` gives what is to be done; both move the session's time, which never goes
    back. What falls due between two calls (a hold, a beat, the landing) happens in the order of its times,
    before a later event is heard, however late the calls come. The same calls give the same effects.

    A start begins at `now`, or once everything handed before a silence has passed. Note-ons that come late
    are dropped by the rule in `tracks.Track`; note-offs never are.

    Attributes:
        setup: what it was made with.
        reason: why it finished; empty until then.
    """

    def __init__(self, setup: Setup, lookaheads: Sequence[int]) -> None:
        self.setup = setup
        self.reason = ""
        foot = setup.foot_switch
        self._foot = None if foot is None else FootReader(foot)
        self._gestures = Gestures(held=foot is not None and can_be_held(foot))
        self._namer = None if setup.key_zone is None else KeyNamer(setup.key_zone)
        self._outputs = Outputs(setup.routes, lookaheads, setup.lead)
        self._leader = None if setup.follow is None else ClockIn(setup.follow)
        self._news = PortNews(setup)
        self._effects: list[Effect] = []
        self._now = self._time = 0
        self._state = State.READY
        self._entered = self._visit = 0
        first = Request(setup.first_tune, setup.first_tonic, setup.first_minor)
        self._choice = Choice(first, setup.tunes)
        self._start_until: int | None = None
        self._tapping: Tapping | None = None
        self._playing: Playing | None = None
        self._pressed_early = False
        self._clear_at = 0
        self._quit = False
        self._pass_on()

    @property
    def state(self) -> str:
        """The state's name, as in the table."""
        return self._state.value

    @property
    def finished(self) -> bool:
        """Whether it was told to quit and everything it had to say has been taken."""
        return self._quit and not self._effects

    # --- the three calls ----------------------------------------------------------------------------

    def hear(self, event: Event, now: int) -> None:
        """Takes in one event.

        Args:
            event: a `Heard` acts at its own time, but not before anything that was heard or taken already.
            now: the present, in nanoseconds; never before that of an earlier call.
        """
        self._now = max(now, self._now)
        self._advance(min(event.ns, self._now) if isinstance(event, Heard) else self._now)
        if self._quit:
            return
        if isinstance(event, Heard):
            self._hear_message(event)
        elif isinstance(event, Ready):
            self._hear_ready(event)
        elif isinstance(event, Refused):
            self._hear_refused(event)
        elif isinstance(event, Quit):
            self._silence()
            self._quit, self.reason = True, event.reason
        else:
            self._hear_port(event)

    def take(self, until: int) -> list[Effect]:
        """Everything to be done by `until`, in order; cues for a port with a lookahead that much further."""
        self._now = max(until, self._now)
        self._advance(self._now)
        self._effects += self._outputs.take(self._now)
        effects, self._effects = self._effects, []
        return effects

    def next_due(self) -> int | None:
        """When `take` next has something, as far as is known now; None when only an event can bring it."""
        if self._effects:
            return self._time
        if self._quit:
            return None
        dues = (self._outputs.next_due, *self._moments())
        return min((due for due in dues if due is not None), default=None)

    # --- time ---------------------------------------------------------------------------------------

    def _moments(self) -> tuple[int | None, ...]:
        playing, tapping = self._playing, self._tapping
        return (
            None if self._foot is None else self._foot.next_due,
            self._gestures.next_due,
            None if self._namer is None else self._namer.next_due,
            self._start_until,
            None if tapping is None else tapping.next_due,
            None if playing is None else playing.next_due,
        )

    def _advance(self, to: int) -> None:
        while not self._quit:
            due = min((moment for moment in self._moments() if moment is not None), default=None)
            if due is None or due > to:
                break
            self._time = max(due, self._time)
            self._happen(due)
        self._time = max(to, self._time)

    def _happen(self, due: int) -> None:
        if self._playing is not None:
            self._go_along(self._playing, due)
        if self._foot is not None:
            self._move(self._foot.settle(due))
        if (hold := self._gestures.hold(due, self._visit)) is not None:
            self._act(hold)
        if self._namer is not None and self._namer.close(due):
            self._start(due)
        if self._tapping is not None and self._tapping.forgotten(due):
            self._silence()
            self._enter(State.READY, due)
        if self._start_until is not None and self._start_until <= due:
            self._start_until = None
            self._show("note", due, text="not arranged yet; nothing started")

    def _go_along(self, playing: Playing, due: int) -> None:
        """Everything that the playing brings by a time, in its order."""
        if self._state in (State.COUNTING_OFF, State.TAPPING) and playing.downbeat <= due:
            self._tapping = None
            self._enter(self._state_of(playing), playing.downbeat)
        if playing.decided_at is not None and playing.decided_at <= due:
            playing.decide()
            self._outputs.extend(playing, self._now)
        if playing.next_beat is not None and playing.next_beat <= due:
            beat = playing.take_beat()
            self._show("beat", beat.ns, beat=beat)
        if playing.landing is not None and playing.landing <= due:
            self._land(playing, playing.landing)
        elif playing.arrival is not None and playing.arrival <= due:
            self._arrive(playing, playing.arrival)

    def _state_of(self, playing: Playing) -> State:
        if playing.vamping:
            return State.VAMPING
        return State.OUT_OF_TIME if playing.out_of_time else State.PLAYING

    def _arrive(self, playing: Playing, ns: int) -> None:
        playing.arrive()
        if self._pressed_early:
            self._go_on()
        elif self._state is State.PLAYING:
            self._enter(State.WAITING, ns)

    def _land(self, playing: Playing, ns: int) -> None:
        self._playing = None
        self._enter(State.IN_THE_TUNE, ns)
        self._choice.ask_afresh(playing.performance)
        self._pass_on()

    # --- what is heard ------------------------------------------------------------------------------

    def _hear_message(self, event: Heard) -> None:
        message = parse(event.data)
        if not isinstance(message, ChannelMessage):
            self._hear_leader(event)
            return
        if self._foot is not None and self._foot.matches(event.port, message):
            self._move(self._foot.read(message, self._time))
        elif self._namer is not None and self._namer.matches(event.port, message):
            self._name_key(message.first)

    def _hear_leader(self, event: Heard) -> None:
        if self._leader is None or event.port != self._leader.port:
            return
        self._leader.hear(event.data, event.ns)
        playing = self._playing
        if playing is None or event.data != CLOCK:
            return
        horizon = max(self._now + self._outputs.ahead(playing.pace), playing.started)
        if self._leader.steer(playing, horizon=horizon, now=self._now):
            self._outputs.retime(playing, self._now)

    def _move(self, edges: Sequence[Edge]) -> None:
        for edge in edges:
            if edge.move is Move.DOWN:
                before = self._visit
                self._act(self._gestures.press(edge.ns, before))
                double = self._gestures.double(edge.ns, before=before, visit=self._visit)
                if double is not None:
                    self._act(double)
            else:
                self._gestures.edge(edge)

    def _name_key(self, pitch: int) -> None:
        row = row_for(self._state, Gesture.KEY_NOTE)
        if self._namer is None or row.action is not Action.REKEY:
            return
        named = self._namer.read(pitch, self._time)
        self._call(Request(self._choice.latest.tune, named.tonic, named.minor))
        if named.starts and row.guard.may_start:
            self._start(self._time)

    def _hear_ready(self, event: Ready) -> None:
        before = self._choice.ready
        if self._choice.hear(event, playing=self._playing is not None):
            self._made_ready()
            if self._start_until is not None:
                self._start(self._time)
        elif self._state is State.READY and self._choice.ready is not before:
            self._show("key", self._time)  # the same tune and key, written anew

    def _hear_refused(self, event: Refused) -> None:
        if event.request != self._choice.awaited:
            return
        self._start_until = None
        instead = self._choice.refuse(event)
        self._show("refused", self._time, text=event.reason)
        if instead is not None:
            self._call(instead)
        elif event.request.tonic is None and self._choice.ready is not None:
            self._show("state", self._time, text="kept what was ready")

    def _hear_port(self, event: Lost | Gone | Back | Unplugged | Plugged) -> None:
        if isinstance(event, Gone):
            self._outputs.gone(event.port)
            self._forget_foot(event.port)
        elif isinstance(event, Unplugged):
            if not event.sends:
                self._forget_foot(event.port)
            elif event.alone:
                self._outputs.gone(event.port)
        elif isinstance(event, Back) or (isinstance(event, Plugged) and event.sends):
            self._prepare_again(event.port)
        elif isinstance(event, Lost):
            self._outputs.lose(event.port, event.start, event.end, self._now)
        what = "lost" if isinstance(event, Lost) else "port"
        self._show(what, self._time, text=self._news.text(event))

    def _prepare_again(self, port: int) -> None:
        self._outputs.back(port, self._now)
        if self._choice.ready is not None:
            self._effects += self._outputs.prepare(self._now)

    def _forget_foot(self, port: int) -> None:
        foot = self.setup.foot_switch
        if self._foot is not None and foot is not None and foot.port in (None, port):
            self._foot.reset()  # a foot that was down on it will never be told to come up
            self._gestures.reset()

    # --- what is done -------------------------------------------------------------------------------

    def _act(self, told: Told) -> None:
        row = row_for(self._state, told.gesture)
        if told.ns >= self._entered + self._guard_ns(row.guard):
            self._do(row.action, told.ns)

    def _do(self, action: Action, ns: int) -> None:
        if action is Action.START:
            self._start(ns)
        elif action is Action.TAP:
            self._tap(ns)
        elif action in (Action.CANCEL, Action.SILENCE):
            self._silence()
            self._enter(State.READY, self._time)
        elif action in (Action.SAME, Action.NEXT):
            self._leave_tune(action)
        elif self._playing is not None:
            self._steer(self._playing, action)

    def _steer(self, playing: Playing, action: Action) -> None:
        """What changes the course of what is playing."""
        if action is Action.NOD:
            playing.nodded = True
            self._enter(State.PLAYING, self._time)
        elif action is Action.ONCE_MORE:
            if playing.may_ask_again(self._time):
                playing.again = True
                self._show("note", self._time, text="once more")
        elif action is Action.FINISH:
            if (line := playing.finish_early(self._now)) is not None:
                self._outputs.cut(line)
                self._outputs.extend(playing, self._now)
                self._show("note", self._time, text="to the last bar")
        elif action is Action.GO_ON:
            self._go_on()
        elif action is Action.KEEP_TIME:
            playing.keep_time(self._now)
            self._outputs.retime(playing, self._now)
            self._enter(State.PLAYING, self._time)

    def _go_on(self) -> None:
        """Time goes on, or will as soon as the playing has arrived where it waits."""
        playing = self._playing
        if playing is None:
            return
        if playing.arrival is not None:
            self._pressed_early = True
            return
        self._pressed_early = False
        playing.go_on(self._now)
        self._outputs.retime(playing, self._now)
        state = self._state_of(playing)
        lands = playing.landing is not None and playing.landing <= self._now
        if state is not self._state and not lands:
            self._enter(state, self._now)

    def _guard_ns(self, guard: Guard) -> int:
        ready = self._choice.ready
        beat = TICKS_PER_QUARTER * ns_per_tick(ready.tempo) if ready is not None else 0
        return round(guard.seconds * NS_PER_SECOND + guard.beats * beat)

    def _start(self, ns: int) -> None:
        performance = self._choice.ready
        if self._choice.awaited is not None or performance is None:
            self._start_until = ns + REMEMBERED_NS
            self._choice.ask_again()
            self._pass_on()
            return
        self._start_until = None
        self._effects += self._outputs.take(self._now)  # what was left of the last intro: its offs
        if self._outputs.next_due is not None:  # a landing that still rings
            self._hush()
        if self._enter_with_leader(performance):
            return
        if performance.tapped:
            self._tapping = Tapping(performance.tempo, performance.beats)
            self._enter(State.TAPPING, ns)
            self._tap(ns)
            return
        self._play(performance, max(self._now, self._clear_at))
        counting = performance.start_tick < 0
        playing = self._playing
        assert playing is not None
        self._enter(State.COUNTING_OFF if counting else self._state_of(playing), playing.started)

    def _enter_with_leader(self, performance: Performance) -> bool:
        """Starts on the leader's next downbeat; False where there is no leader to be heard."""
        if self._leader is None:
            return False
        entry = self._leader.enter(performance, max(self._now, self._clear_at))
        self._leader.follow(entry)
        if entry is None:
            self._show("note", self._time, text="no clock to follow; in its own time")
            return False
        self._play(performance, entry.ns, tempo=entry.tempo)
        self._enter(State.COUNTING_OFF, self._time)
        return True

    def _play(self, performance: Performance, start: int, *, tempo: float | None = None) -> None:
        self._pressed_early = False
        ahead = self._outputs.ahead(ns_per_tick(tempo or performance.tempo))
        self._playing = Playing(performance, start, tempo=tempo, ahead=ahead)
        self._outputs.start(self._playing, self._now)

    def _tap(self, ns: int) -> None:
        """One tap of the count-off; what it tells counts until the downbeat has been handed over."""
        tapping, performance = self._tapping, self._choice.ready
        if tapping is None or performance is None:
            return
        tapping.tap(ns)
        entry, playing = tapping.entry, self._playing
        late = playing is not None and playing.downbeat <= self._now + self._outputs.ahead(playing.pace)
        if entry is not None and not late:
            self._play(performance, max(entry.downbeat, self._now, self._clear_at), tempo=entry.tempo)
            self._show("note", self._time, text=f"tapped: {entry.tempo:.0f} a minute")

    def _silence(self) -> None:
        self._playing = self._tapping = None
        self._start_until = None
        self._hush()

    def _hush(self) -> None:
        self._outputs.stop()
        self._effects.append(Silence())
        # What could not be withdrawn still passes; nothing new may start among it.
        self._clear_at = self._now + self._outputs.longest_lookahead

    def _leave_tune(self, action: Action) -> None:
        if ended := self._outputs.end_clock(self._now):
            self._effects += ended
            self._clear_at = self._now + self._outputs.longest_lookahead
        if action is Action.NEXT:
            self._turn_to_next()
        else:
            self._choice.renew()
            self._enter(State.READY, self._time)

    def _turn_to_next(self) -> None:
        following, begins_again = self._choice.turn_to_next()  # which is shown as ready already
        self._enter(State.READY, self._time)
        if begins_again:
            self._show("note", self._time, text="the end of the set; it begins again")
        self._call(following)

    def _call(self, request: Request) -> None:
        if self._choice.call(request):
            self._made_ready()
        self._pass_on()

    def _made_ready(self) -> None:
        """What was called for has become ready."""
        if self._choice.ready is not None:
            self._outputs.learn(self._choice.ready)
        self._effects += self._outputs.prepare(self._now)
        self._show("key", self._time)

    def _pass_on(self) -> None:
        """Tells the front what is to be arranged."""
        self._effects += self._choice.asked
        self._choice.asked.clear()

    def _enter(self, state: State, ns: int) -> None:
        self._state, self._entered = state, ns
        self._visit += 1
        if self._namer is not None:
            self._namer.reset()
        self._show("state", ns)

    def _show(self, what: str, ns: int, *, text: str = "", beat: Beat | None = None) -> None:
        self._effects.append(shown(self._choice, self.state, what, ns, text=text, beat=beat))
