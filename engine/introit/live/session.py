"""The session: a plain state machine from what is heard to what is to be done; opens nothing, asks no clock.

What a gesture does in which state, and when it may, is read from `states.TABLE`; here is only how it is done.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

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
    Shown,
    Silence,
    Unplugged,
    Wanted,
)
from introit.live.foot import Edge, FootReader, Move, can_be_held
from introit.live.gestures import Gestures, Told
from introit.live.keynote import KeyNamer
from introit.live.messages import ChannelMessage, parse
from introit.live.outputs import Outputs
from introit.live.playing import Playing
from introit.live.port_news import PortNews
from introit.live.setup import Setup
from introit.live.shelf import Shelf
from introit.live.states import Action, Gesture, Guard, State, row_for
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
        self._outputs = Outputs(setup.routes, lookaheads)
        self._shelf = Shelf()
        self._news = PortNews(setup)
        self._effects: list[Effect] = []
        self._now = self._time = 0
        self._state = State.READY
        self._entered = self._visit = 0
        self._chosen = Request(setup.first_tune, setup.first_tonic, setup.first_minor)
        self._ready: Performance | None = None
        self._awaited: Request | None = None
        self._refused: set[int] = set()
        self._start_until: int | None = None
        self._playing: Playing | None = None
        self._clear_at = 0
        self._quit = False
        self._call(self._chosen)

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
        playing = self._playing
        return (
            None if self._foot is None else self._foot.next_due,
            self._gestures.next_due,
            None if self._namer is None else self._namer.next_due,
            self._start_until,
            None if playing is None else playing.next_beat,
            None if playing is None else playing.landing,
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
            self._pass_beats(self._playing, due)
        if self._foot is not None:
            self._move(self._foot.settle(due))
        if (hold := self._gestures.hold(due, self._visit)) is not None:
            self._act(hold)
        if self._namer is not None and self._namer.close(due):
            self._start(due)
        if self._start_until is not None and self._start_until <= due:
            self._start_until = None
            self._show("note", due, text="not arranged yet; nothing started")

    def _pass_beats(self, playing: Playing, due: int) -> None:
        if self._state is State.COUNTING_OFF and playing.downbeat <= due:
            self._enter(State.PLAYING, playing.downbeat)
        if playing.next_beat is not None and playing.next_beat <= due:
            beat = playing.take_beat()
            self._effects.append(
                self._shown(
                    "beat",
                    beat.ns,
                    bar=beat.bar,
                    beat=beat.beat,
                    beats_to_head=beat.beats_to_head,
                    symbol=beat.chord.symbol,
                    numeral=beat.chord.numeral,
                )
            )
        if playing.landing <= due:
            self._land(playing)

    def _land(self, playing: Playing) -> None:
        self._playing = None
        self._enter(State.IN_THE_TUNE, playing.landing)
        played = playing.performance
        self._effects.append(Wanted(Request(self._tune, played.tonic, played.minor)))  # once more, afresh
        following = Request((self._tune + 1) % self._tunes())
        if self._shelf.find(following) is None:
            self._effects.append(Wanted(following))

    # --- what is heard ------------------------------------------------------------------------------

    def _hear_message(self, event: Heard) -> None:
        message = parse(event.data)
        if not isinstance(message, ChannelMessage):
            return
        if self._foot is not None and self._foot.matches(event.port, message):
            self._move(self._foot.read(message, self._time))
        elif self._namer is not None and self._namer.matches(event.port, message):
            self._name_key(message.first)

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
        self._call(Request(self._latest().tune, named.tonic, named.minor))
        if named.starts and row.guard.may_start:
            self._start(self._time)

    def _hear_ready(self, event: Ready) -> None:
        self._shelf.put(event)
        self._refused.discard(event.tune)
        if self._awaited is None:
            self._ready = self._newest()
        elif (found := self._shelf.find(self._awaited)) is not None:
            self._make_ready(found, self._awaited)
            if self._start_until is not None:
                self._start(self._time)

    def _hear_refused(self, event: Refused) -> None:
        if event.request != self._awaited:
            return
        self._awaited = self._start_until = None
        self._show("refused", self._time, text=event.reason)
        if event.request.tonic is not None:
            if self._ready is None:
                self._call(Request(event.request.tune))  # the key of a life before: the tune matters more
        else:
            self._refused.add(event.request.tune)
            self._call_after_refusal(event.request.tune)

    def _call_after_refusal(self, tune: int) -> None:
        tunes = self._tunes()
        later = ((tune + step) % tunes for step in range(1, tunes))
        following = next((tune for tune in later if tune not in self._refused), None)
        if following is None:
            self._refused.clear()
        elif self._ready is None or following != self._tune:
            self._call(Request(following))
        else:
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
        what = "lost" if isinstance(event, Lost) else "port"
        self._show(what, self._time, text=self._news.text(event))

    def _prepare_again(self, port: int) -> None:
        self._outputs.back(port)
        if self._ready is not None:
            self._effects += self._outputs.prepare(self._now)

    def _forget_foot(self, port: int) -> None:
        foot = self.setup.foot_switch
        if self._foot is not None and foot is not None and foot.port in (None, port):
            self._foot.reset()  # a foot that was down on it will never be told to come up
            self._gestures.reset()

    # --- what is done -------------------------------------------------------------------------------

    def _act(self, told: Told) -> None:
        row = row_for(self._state, told.gesture)
        if told.ns < self._entered + self._guard_ns(row.guard):
            return
        if row.action is Action.START:
            self._start(told.ns)
        elif row.action in (Action.CANCEL, Action.SILENCE):
            self._silence()
            self._enter(State.READY, self._time)
        elif row.action is Action.SAME:
            self._ready = self._newest()
            self._enter(State.READY, self._time)
        elif row.action is Action.NEXT:
            self._turn_to_next()

    def _guard_ns(self, guard: Guard) -> int:
        beat = TICKS_PER_QUARTER * ns_per_tick(self._ready.tempo) if self._ready is not None else 0
        return round(guard.seconds * NS_PER_SECOND + guard.beats * beat)

    def _start(self, ns: int) -> None:
        performance = self._ready
        if self._awaited is not None or performance is None:
            self._start_until = ns + REMEMBERED_NS
            self._effects.append(Wanted(self._awaited or Request(self._tune)))
            self._awaited = self._awaited or Request(self._tune)
            return
        self._start_until = None
        self._effects += self._outputs.take(self._now)  # what was left of the last intro: its offs
        if self._outputs.next_due is not None:  # a landing that still rings
            self._hush()
        self._playing = Playing(performance, max(self._now, self._clear_at))
        self._outputs.start(performance, self._playing.timeline)
        counting = performance.start_tick < 0
        self._enter(State.COUNTING_OFF if counting else State.PLAYING, self._playing.started)

    def _silence(self) -> None:
        self._playing = None
        self._start_until = None
        self._hush()

    def _hush(self) -> None:
        self._outputs.stop()
        self._effects.append(Silence())
        # What could not be withdrawn still passes; nothing new may start among it.
        self._clear_at = self._now + self._outputs.longest_lookahead

    def _turn_to_next(self) -> None:
        last, following = self._tune, (self._tune + 1) % self._tunes()
        if (found := self._shelf.find(Request(following))) is not None:
            self._ready, self._chosen = (
                found,
                Request(following),
            )  # what is shown as ready is the next tune already
        self._enter(State.READY, self._time)
        if following <= last:
            self._show("note", self._time, text="the end of the set; it begins again")
        self._call(Request(following))

    def _call(self, request: Request) -> None:
        found = self._shelf.find(request)
        if found is not None:
            self._make_ready(found, request)
        else:
            self._awaited = request
            self._effects.append(Wanted(request))

    def _make_ready(self, performance: Performance, request: Request) -> None:
        self._awaited = None
        self._ready, self._chosen = performance, request
        self._shelf.keep({self._tune, (self._tune + 1) % self._tunes()})
        self._outputs.learn(performance)
        self._effects += self._outputs.prepare(self._now)
        self._show("key", self._time)

    def _newest(self) -> Performance | None:
        """What is ready, in the newest arrangement of the same tune and key."""
        ready = self._ready
        if ready is None or self._playing is not None:
            return ready
        return self._shelf.find(Request(self._tune, ready.tonic, ready.minor)) or ready

    def _tunes(self) -> int:
        return max(1, self.setup.tunes)

    @property
    def _tune(self) -> int:
        return self._chosen.tune

    def _latest(self) -> Request:
        return self._chosen if self._awaited is None else self._awaited

    def _enter(self, state: State, ns: int) -> None:
        self._state, self._entered = state, ns
        self._visit += 1
        if self._namer is not None:
            self._namer.reset()
        self._show("state", ns)

    # --- what is shown ------------------------------------------------------------------------------

    def _show(self, what: str, ns: int, *, text: str = "") -> None:
        self._effects.append(self._shown(what, ns, text=text))

    def _shown(
        self,
        what: str,
        ns: int,
        *,
        bar: int = 0,
        beat: int = 0,
        beats_to_head: int = 0,
        symbol: str = "",
        numeral: str = "",
        text: str = "",
    ) -> Shown:
        latest = self._latest()
        ready = self._ready if latest.tune == self._tune else None
        return Shown(
            ns,
            self.state,
            what,
            tune=latest.tune,
            title="" if ready is None else ready.title,
            intro="" if ready is None else ready.intro,
            key="" if ready is None else ready.key,
            tempo=0.0 if ready is None else ready.tempo,
            bar=bar,
            beat=beat,
            beats_to_head=beats_to_head,
            symbol=symbol,
            numeral=numeral,
            text=text,
            tonic=latest.tonic,
            minor=latest.minor,
        )
