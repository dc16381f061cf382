"""The session: a plain state machine from what is heard to what is to be done; opens nothing, asks no clock.

What a gesture does in which state, and when it may, is read from `states.TABLE`; here is only how it is done.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from introit.live.choice import Choice
from introit.live.course import Course
from introit.live.display import Display
from introit.live.events import (
    Called,
    Effect,
    Event,
    Following,
    Hand,
    Heard,
    Ordered,
    Quit,
    Ready,
    Refused,
    Reordered,
    Request,
    Slept,
    Taught,
)
from introit.live.feet import Feet
from introit.live.gestures import Told
from introit.live.guards import Guards
from introit.live.keynote import Named
from introit.live.lesson import Lesson
from introit.live.messages import ChannelMessage, parse
from introit.live.ordering import Ordering, Outcome
from introit.live.passes import Passes
from introit.live.place import Place
from introit.live.playing import Beat, Playing
from introit.live.reach import Reach
from introit.live.readying import Readying
from introit.live.setup import Setup
from introit.live.states import Action, Ask, Gesture, Order, State, order_row, row_for
from introit.live.steering import Steering
from introit.live.steps import Steps
from introit.units import NS_PER_SECOND

_BEFORE: Final = (State.COUNTING_OFF, State.TAPPING, State.RESTING)
"""Where the intro's first downbeat is still to come, once something plays."""
_AWAKE: Final = "all is silent, and a press begins anew"


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
        self._effects: list[Effect] = []
        self._feet = Feet(setup, self._act, self._hear_order)
        self._course = Course(setup, lookaheads, self._effects)
        self._now = self._time = 0
        self._place = Place()
        first = Request(setup.first_tune, setup.first_tonic, setup.first_minor)
        self._choice = Choice(first, setup.tunes)
        self._ordering = Ordering(self._choice, self._course, self._effects)
        self._steps = Steps(self._choice, self._place)
        number = self._course.outputs.number
        self._display = Display(
            setup,
            self._choice,
            self._course,
            steps=self._steps,
            place=self._place,
            effects=self._effects,
            number=number,
        )
        self._readying = Readying(
            self._choice, self._course, place=self._place, display=self._display, effects=self._effects
        )
        self._reach = Reach(
            setup,
            self._choice,
            self._course,
            feet=self._feet,
            display=self._display,
            effects=self._effects,
        )
        self._lesson = Lesson(
            self._steps,
            self._choice,
            self._course,
            self._readying,
            place=self._place,
            display=self._display,
        )
        self._guards = Guards(self._place, self._course)
        self._passes = Passes(self._choice, self._course)
        self._steering = Steering(self._course, self._place, self._feet, enter=self._enter, show=self._show)
        self._again_at: int | None = None
        self._quit = False

    @property
    def state(self) -> str:
        """The state's name, as in the table."""
        return self._place.state.value

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
            for press in self._readying.hear_ready(event, time=self._time, now=self._now):
                self._act(Told(Gesture.PRESS, press))
        elif isinstance(event, Refused):
            self._readying.hear_refused(event, time=self._time, now=self._now)
        elif isinstance(event, Ordered):
            self._hear_order(event)
        elif isinstance(event, Reordered):
            self._choice.reorder(event.order)
        elif isinstance(event, Following):
            if self._passes.learn(event):
                self._show("key", self._time)
        elif isinstance(event, Called):
            self._hear_call(event)
        elif isinstance(event, Taught):
            self._teach(event)
        elif isinstance(event, Slept):
            self._wake(event)
        elif isinstance(event, Quit):
            self._silence()
            self._quit, self.reason = True, event.reason
        else:
            self._reach.hear(event, time=self._time, now=self._now)

    def take(self, until: int) -> list[Effect]:
        """Everything to be done by `until`, in order; cues for a port with a lookahead that much further."""
        self._now = max(until, self._now)
        self._advance(self._now)
        effects = [*self._effects, *self._course.outputs.take(self._now)]
        self._effects.clear()
        return effects

    def next_due(self) -> int | None:
        """When `take` next has something, as far as is known now; None when only an event can bring it."""
        if self._effects:
            return self._time
        if self._quit:
            return None
        dues = (self._course.outputs.next_due, *self._moments())
        return min((due for due in dues if due is not None), default=None)

    def farewell(self, now: int) -> list[Hand]:
        """What is told to the ports last of all, once everything has been silenced."""
        return self._course.outputs.farewell(now)

    # --- time ---------------------------------------------------------------------------------------

    def _moments(self) -> tuple[int | None, ...]:
        course, feet = self._course.next_due, self._feet.next_due
        return feet, self._readying.start_until, course, self._again_at, self._passes.due

    def _advance(self, to: int) -> None:
        while not self._quit:
            due = min((moment for moment in self._moments() if moment is not None), default=None)
            if due is None or due > to:
                break
            self._time = max(due, self._time)
            self._happen(due)
        self._time = max(to, self._time)

    def _happen(self, due: int) -> None:
        if self._course.playing is not None:
            self._go_along(self._course.playing, due)
        self._feet.settle(due, visit=self._place.visit)
        if self._feet.close(due) and self._starts_by_key:
            self._start(due)
        if self._course.tapping is not None and self._course.tapping.forgotten(due):
            self._forget_taps(due)
        if self._readying.start_until is not None and self._readying.start_until <= due:
            self._readying.start_until = None
            self._show("note", due, text="not arranged yet; nothing started")
        if self._again_at is not None and self._again_at <= due:
            self._leave_tune(Action.SAME)
        if self._passes.due is not None and self._passes.due <= due and not self._passes.begin(self._now):
            self._leave_tune(Action.SAME)

    def _go_along(self, playing: Playing, due: int) -> None:
        """Everything that the playing brings by a time, in its order."""
        course = self._course
        if self._place.state in _BEFORE and playing.downbeat <= due:
            course.tapped(playing)
            if not (playing.landing is not None and playing.landing <= playing.downbeat):
                self._enter(course.state, playing.downbeat)
        if playing.decided_at is not None and playing.decided_at <= due:
            course.decide(playing, self._now)
        if playing.next_beat is not None and playing.next_beat <= due:
            beat = playing.take_beat()
            self._show("beat", beat.ns, beat=beat)
            self._display.light(self._now)
        if playing.landing is not None and playing.landing <= due:
            self._land(playing, playing.landing)
        elif playing.arrival is not None and playing.arrival <= due:
            self._steering.arrive(playing, playing.arrival, now=self._now)

    def _forget_taps(self, ns: int) -> None:
        playing = self._course.playing
        if playing is None:
            self._silence()
            self._enter(State.READY, ns)
        else:
            self._enter(self._course.forget_taps(playing), ns)

    def _land(self, playing: Playing, ns: int) -> None:
        self._course.land()
        if playing.performance.rest:
            self._enter(State.RESTING, ns)
            self._passes.rest(playing)
            return
        self._enter(State.IN_THE_TUNE, ns)
        if self.setup.practice:
            self._again_at = playing.over
        self._readying.ask_afresh(playing)

    # --- what is heard ------------------------------------------------------------------------------

    def _hear_message(self, event: Heard) -> None:
        message = parse(event.data)
        if not isinstance(message, ChannelMessage):
            self._course.hear_leader(event, self._now)
        if message is None:
            return
        named = self._feet.hear(
            event.port,
            message,
            self._time,
            visit=self._place.visit,
            names_key=self._place.takes_keys,
        )
        if named is not None:
            self._name_key(named)

    def _hear_call(self, event: Called) -> None:
        if event.tonic is not None:
            if self._place.takes_keys:
                self._call(self._choice.in_key(event.tonic, event.minor))
            else:
                self._show("note", self._time, text=f"another key: not while {self._place.state}")
        if event.tempo is not None:
            self._follow(self._ordering.at_tempo(event.tempo, self._place.state, now=self._now))

    def _name_key(self, named: Named) -> None:
        self._call(self._choice.in_key(named.tonic, named.minor))
        if named.starts and self._starts_by_key:
            self._start(self._time)

    @property
    def _starts_by_key(self) -> bool:
        return self._place.starts_by_key and not self._steps.now

    def _teach(self, event: Taught) -> None:
        if event.ask == Ask.START and self._place.state is State.READY:
            self._start(self._time)
        elif (begun := self._lesson.hear(event, time=self._time, now=self._now)) is not None:
            self._enter(*begun)

    # --- what is done -------------------------------------------------------------------------------

    def _act(self, told: Told) -> int:
        """What a gesture does now; returns the visit to a state that follows."""
        if self._steps.takes(told):
            self._show("step", told.ns)
            return self._place.visit
        row = row_for(self._place.state, told.gesture)
        if self._guards.lets(told, row):
            self._do(row.action, told.ns)
        return self._place.visit

    def _do(self, action: Action, ns: int) -> None:
        if action is Action.START:
            self._start(ns)
        elif action is Action.TAP:
            self._tap(ns)
        elif action is Action.CANCEL and self._course.awaits_leader:
            return  # taps of a tune that is tapped in, while the leader's downbeat is awaited
        elif action in (Action.CANCEL, Action.SILENCE, Action.END_CHECK):
            self._silence()
            self._enter(State.READY, self._time)
        elif action is Action.MARK:
            self._show("mark", ns)
        elif action in (Action.SAME, Action.NEXT):
            self._leave_tune(action)
        elif self._course.playing is not None:
            self._steering.do(self._course.playing, action, ns, time=self._time, now=self._now)

    # --- what is ordered ----------------------------------------------------------------------------

    def _hear_order(self, event: Ordered) -> int:
        """What an order does now; returns the visit to a state that follows."""
        order = Order(event.order)
        row = order_row(self._place.state, order)
        if row is None:
            self._show("note", self._time, text=f"{order}: not while {self._place.state}")
        elif self._time >= self._place.entered + self._guards.ns(row.guard):
            self._follow(self._ordering.obey(event, self._place.state, time=self._time, now=self._now))
        return self._place.visit

    def _follow(self, outcome: Outcome) -> None:
        """Does what an order leaves to do."""
        if outcome.note:
            self._show("note", self._time, text=outcome.note)
        if outcome.enter is not None:
            self._readying.start_until = None
            self._enter(outcome.enter, self._time)
        if outcome.turn_to is not None:
            self._turn_to(outcome.turn_to)
        elif outcome.call is not None:
            self._call(outcome.call)

    # --- how it is done -----------------------------------------------------------------------------

    def _start(self, ns: int) -> None:
        performance = self._choice.ready
        if self._readying.remember_start(ns) or performance is None:
            return
        state, began, note = self._course.start(performance, ns, self._now)
        if note:
            self._show("note", self._time, text=note)
        self._enter(state, began)

    def _tap(self, ns: int) -> None:
        if self._choice.ready is not None:
            note = self._course.tap(self._choice.ready, ns, self._now)
            if note:
                self._show("note", self._time, text=note)

    def _silence(self) -> None:
        self._readying.start_until = None
        self._course.silence(self._now)

    def _wake(self, event: Slept) -> None:
        """The machine has slept: nothing goes on as if nothing had happened, and ports may know nothing."""
        self._silence()
        self._course.leave_tune(self._now)
        self._readying.renew(self._now)
        self._reach.tell_again(self._now)
        self._enter(State.READY, self._time)
        seconds = max(1, round(event.ns / NS_PER_SECOND))
        self._show("slept", self._time, text=f"the machine slept for {seconds} s: {_AWAKE}")

    def _leave_tune(self, action: Action) -> None:
        if action is Action.NEXT:
            self._turn_to(self._choice.next_position)
        else:
            self._course.leave_tune(self._now)
            self._readying.renew(self._now)
            self._enter(State.READY, self._time)

    def _turn_to(self, position: int) -> None:
        self._course.leave_tune(self._now)
        self._readying.start_until = None
        wanted = self._choice.turn_to(position)  # which is shown as ready already
        self._enter(State.READY, self._time)
        if position >= self._choice.tunes:
            self._show("note", self._time, text="the end of the set; it begins again")
        self._call(wanted)

    def _call(self, request: Request) -> None:
        self._readying.call(request, time=self._time, now=self._now)

    def _enter(self, state: State, ns: int) -> None:
        if state is State.READY:
            self._passes.stop(resting=self._place.state is State.RESTING)
        else:
            self._passes.entered()
        self._place.enter(state, ns)
        self._again_at = None
        self._passes.forget()
        self._show("state", ns)
        self._display.light(self._now)

    def _show(self, what: str, ns: int, *, text: str = "", beat: Beat | None = None) -> None:
        self._display.show(what, ns, text=text, beat=beat)
