"""Any evening whatever: random feet, hands, garbage, late wake-ups, lost cycles, ports that come and go.

A hypothesis state machine drives the real loop on a fake clock. After each step it holds that what sounds is
owed in the ledger, that nothing sounds while the session is ready or in the tune, that no note begins outside
an intro, that no press alone silences, that an intro lands on its head, and that nobody who plays by our
clock is left running. At the end it plays the same steps again and must hear the same, then shows that the
evening can go on from wherever it is, with whatever switch, then quits and must hear silence.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from introit.live.events import (
    Called,
    Heard,
    Ordered,
    Quit,
    Ready,
    Refused,
    Reordered,
    Request,
    Sent,
    Taught,
    Wanted,
)
from introit.live.gestures import DOUBLE_NS, HOLD_NS
from introit.live.lamps import WHEN
from introit.live.messages import CLOCK, CONTINUE, START, STOP, control, note_off, note_on, program
from introit.live.setup import ClockLead, Control, FootSwitch, KeyZone, Lamp, Route
from introit.live.states import Ask, Order
from introit.performance import PARTS, PlayedNote, Wait
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER, ns_per_tick

MS = NS_PER_MS
SILENT_STATES = ("ready", "tapping", "in the tune")
STARTED_STATES = ("counting off", "playing", "vamping", "out of time")
PLAYING_STATES = ("playing", "vamping", "out of time", "waiting")
CUE_CHANNEL = 12
CUE = tuple(PlayedNote(at * 480, at * 480 + 900, at * 480, PARTS.index("cue"), 60 + at, 40) for at in (0, 1))
CONTROLS = (
    Control("next", number=65),
    Control("faster", message="note", number=100),
    Control("mute", message="note", number=101, part=1),
    Control("level", number=11, part=2),
    Control("tune", message="program"),
    Control("tune", message="song select"),
)
LAMPS = tuple(
    Lamp(when=when, port=1, channel=15, message="control", number=20 + number, on=127, off=0)
    for number, when in enumerate(WHEN)
)
BAR = 4 * TICKS_PER_QUARTER
LED: dict[str, dict[str, Any]] = {
    "by itself": {},
    "vamping": {"vamp": (0, 2 * BAR)},
    "vamping on one bar": {"vamp": (0, BAR), "once_more": True},
    "once more": {"once_more": True},
    "held": {"waits": (Wait(BAR + 700, 2 * BAR),)},
    "colla voce": {"waits": (Wait(500, BAR), Wait(BAR + 500, 2 * BAR)), "out_of_time": True},
    "colla voce, then held": {
        "waits": (Wait(500, BAR), Wait(BAR + 500, 2 * BAR, fermata=True)),
        "out_of_time": True,
    },
    "colla voce for a bar": {"waits": (Wait(500, BAR),), "out_of_time": True},
    "tapped": {"tapped": True},
    "tapped, then held": {"tapped": True, "waits": (Wait(BAR + 700, 2 * BAR, fermata=True),)},
    "tapped, then colla voce": {
        "tapped": True,
        "waits": (Wait(500, BAR), Wait(BAR + 500, 2 * BAR)),
        "out_of_time": True,
    },
    "held, then a tapped bar": {"waits": (Wait(BAR + 700, 2 * BAR, fermata=True),), "tapped_on": True},
    "colla voce, then a tapped bar": {
        "waits": (Wait(500, BAR),),
        "out_of_time": True,
        "tapped_on": True,
    },
}
"""Ways in which an intro is led, and what a performance says of them."""


@dataclass(frozen=True)
class Evening:
    """What an evening is played with; in some nobody orders anything."""

    lookaheads: tuple[int, int]
    committed: int
    switch: FootSwitch
    zone: KeyZone
    tempo: float
    count_off: int
    led: str = "by itself"
    lead: ClockLead | None = None
    follow: int | None = None
    orders: bool = True


class Listener:
    """Plays by our clock as MIDI 1.0 says: Start and Continue set it running, Stop ends that.

    Attributes:
        runs: whether it does.
        position: which clock of the song comes next.
    """

    def __init__(self) -> None:
        self.runs = False
        self.position = 0
        self._clocks: deque[int] = deque(maxlen=3)

    def hear(self, sent: Sent) -> None:
        data = sent.data
        if data == CLOCK:
            self.position += self.runs
            self._clocks.append(sent.actual)
            # At 400, the fastest, clocks are 6.25 ms apart, and half of that where one catches up.
            heaped = len(self._clocks) == 3 and self._clocks[-1] - self._clocks[0] < 3 * MS
            assert not heaped, list(self._clocks)
        elif data == START:
            assert not self.runs, "started without having been stopped"
            self.runs, self.position = True, 0
        elif data == CONTINUE:
            assert not self.runs, "continued without having been stopped"
            self.runs = True
        elif data == STOP:
            self.runs = False
        elif data[0] == 0xF2:
            assert not self.runs, "moved while it runs"
            self.position = (data[1] | data[2] << 7) * 6


class Stage:
    """One evening, moved by named steps, so that a list of them can be played again.

    Attributes:
        foot: every value of the foot-switch, with the nanosecond at which it came in.
        silences: from when to when an order to be silent was on its way.
    """

    def __init__(self, evening: Evening) -> None:
        self.evening = evening
        counted = 0 if LED[evening.led].get("tapped") else evening.count_off
        changes = LED[evening.led] | {"cue": CUE, "first_note": CUE[:1]}
        self.front = SketchFront(tempo=evening.tempo, count_off=counted, changes=changes)
        self.unanswered: list[Wanted] = []
        self.at_hand = True
        setup = sketch_setup(
            ports=2,
            tunes=3,
            routes=(*sketch_setup(ports=2).routes, Route(PARTS.index("cue"), 0, CUE_CHANNEL)),
            foot_switch=evening.switch,
            controls=CONTROLS,
            lamps=LAMPS,
            key_zone=evening.zone,
            active_sensing=True,
            lead=evening.lead,
            follow=evening.follow,
        )
        self.rehearsal = Rehearsal(
            setup, self._answer, lookaheads=evening.lookaheads, committed=evening.committed
        )
        self.gone: set[int] = set()
        self.ordered = False
        self.foot: list[tuple[int, int]] = []
        self.silences: list[tuple[int, int]] = []
        self.state_seen, self.state_since = "", 0
        self.listener = Listener()
        self._listened = 0
        self.late: list[int] = []
        self.rehearsal.clock.lateness = lambda _deadline: self.late.pop() if self.late else 0
        self.settle()

    @property
    def now(self) -> int:
        return self.rehearsal.clock.now()

    @property
    def state(self) -> str:
        return self.rehearsal.session.state

    @property
    def tempo(self) -> float:
        """As it was last shown: another may have been ordered, or another's clock be followed."""
        shown = (shown.tempo for shown in reversed(self.rehearsal.shown) if shown.tempo)
        return next(shown, self.evening.tempo)

    def settle(self) -> None:
        """Lets the loop work until what came in has been dealt with, without time passing."""
        for _ in range(3):
            self.wait(0)

    def wait(self, ns: int) -> None:
        """Lets time pass."""
        self.rehearsal.advance(self.now + ns)
        if self.state != self.state_seen:
            self.state_seen, self.state_since = self.state, self.now

    def listen(self) -> Listener | None:
        """Who plays by our clock, having heard all that was sent."""
        if self.evening.lead is None:
            return None
        messages = self.rehearsal.receivers[self.evening.lead.port].messages
        for sent in messages[self._listened :]:
            self.listener.hear(sent)
        self._listened = len(messages)
        return self.listener

    def hear(self, data: bytes, port: int, age: int) -> None:
        """Something came in so many nanoseconds ago."""
        if len(data) == 3 and data[0] & 0xF0 == 0xB0 and data[1] == 64 and data[2] < 128:
            self.foot.append((self.now, data[2]))
        self.rehearsal.play([(self.now, data)], port=port) if age == 0 else self._hear_old(data, port, age)
        self.settle()

    def _hear_old(self, data: bytes, port: int, age: int) -> None:
        self.rehearsal.put(self.now, Heard(port, max(0, self.now - age), data))

    def be_led(self, tempo: float, clocks: int, starts: bool) -> None:
        """Another's clock goes on for a while, and may start its song."""
        if starts:
            self.hear(START, 1, 0)
        for _ in range(clocks):
            self.hear(CLOCK, 1, 0)
            self.wait(round(TICKS_PER_QUARTER * ns_per_tick(tempo) / 24))

    def be_late(self, ns: int) -> None:
        """The next sleep ends late."""
        self.late.append(ns)

    def lose(self, port: int, before: int, after: int) -> None:
        """A cycle is skipped."""
        self.rehearsal.ports[port].lose(self.now - before, self.now + after)
        self.settle()

    def vanish(self, port: int) -> None:
        """A port goes away."""
        self.gone.add(port)
        self.rehearsal.ports[port].vanish("unplugged")
        self.settle()

    def revive(self, port: int) -> None:
        """It is there again."""
        self.gone.discard(port)
        self.rehearsal.ports[port].revive()
        self.settle()

    def take_leave(self, away: bool) -> None:
        """The front stops answering, or answers again, all that was asked as well."""
        self.at_hand = not away
        if self.at_hand:
            for wanted in self.unanswered:
                for answer in self.front(wanted):
                    self.rehearsal.say(self.now, answer)
            self.unanswered.clear()
        self.settle()

    def bring(self, tune: int, tonic: int, minor: bool, own: bool) -> None:
        """The front sends something unasked."""
        performance = self.front.performance(Request(tune) if own else Request(tune, tonic, minor))
        self.rehearsal.say(self.now, Ready(tune, own, performance))
        self.settle()

    def call(self, tonic: int | None, minor: bool | None, tempo: float | None) -> None:
        """A key or a tempo is called for by its name."""
        self.ordered = True
        self.rehearsal.say(self.now, Called(tonic, minor, tempo))
        self.settle()

    def order(self, order: str, part: int, value: int) -> None:
        """A key of the computer orders something."""
        self.ordered, before = True, self.now
        self.rehearsal.say(self.now, Ordered(order, part, value))
        self.settle()
        if order == Order.SILENCE:
            self.silences.append((before, self.now))

    def teach(self, ask: str, first: int, last: int) -> None:
        """A lesson's page asks for something."""
        self.ordered = True
        self.rehearsal.say(self.now, Taught(ask, first, last))
        self.settle()

    def sleep(self, ns: int) -> None:
        """The machine is suspended for so long, which the clock does not count."""
        before = self.now
        self.rehearsal.clock.suspend(ns)
        self.settle()
        self.silences.append((before, self.now))

    @property
    def rests_high(self) -> bool:
        """Whether the last value that a switch takes for up or down was a high one."""
        switch = self.evening.switch
        told = [value for _, value in self.foot if not switch.off_at < value < switch.on_at]
        return bool(told) and told[-1] >= switch.on_at

    def was_told_to_hold(self, ns: int) -> bool:
        """Whether the foot had been down for half a second by then; pressed twice, where that is not told."""
        switch = self.evening.switch
        if switch.action != "momentary":
            return sum(ns - DOUBLE_NS <= at <= ns for at, _ in self.foot) >= 2
        down = False
        moved = [(at, value) for at, value in self.foot if at <= ns]  # more may have come since
        for (at, value), (then, _) in pairwise([*moved, (ns, 0)]):
            if at > ns - HOLD_NS:
                if self._is_up(value) and then - at > switch.bounce_ms * MS:
                    return False
            elif not switch.off_at < (127 - value if switch.inverted else value) < switch.on_at:
                down = not self._is_up(value)
        return down

    def _is_up(self, value: int) -> bool:
        switch = self.evening.switch
        return (127 - value if switch.inverted else value) <= switch.off_at

    def reorder(self, order: tuple[int, ...]) -> None:
        """The set was saved in another order, with a tune more or fewer."""
        self.rehearsal.say(self.now, Reordered(order))
        self.settle()

    @property
    def silent_states(self) -> tuple[str, ...]:
        """Those in which nothing sounds; while a bar is tapped, what waits for it does."""
        taps_on = LED[self.evening.led].get("tapped_on")
        return tuple(state for state in SILENT_STATES if state != "tapping" or not taps_on)

    def sounding(self, port: int) -> list[tuple[int, int]]:
        """What sounds on a port, but for the cue."""
        return [note for note in self.rehearsal.receivers[port].sounding if note[0] != CUE_CHANNEL]

    def refuse(self, tunes: tuple[int, ...], tonics: tuple[int, ...]) -> None:
        """From now on these cannot be arranged."""
        self.front.refuse, self.front.refuse_tonics = tunes, tonics

    def _answer(self, wanted: Wanted) -> Sequence[Ready | Refused]:
        if self.at_hand:
            return self.front(wanted)
        self.unanswered.append(wanted)
        return []

    def press(self, hold_ms: int = 60) -> None:
        """The foot goes down and up, as this evening's switch tells it."""
        switch = self.evening.switch
        if switch.action == "latching":
            self.hear(control(0, 64, 0 if self.rests_high else 127), 0, 0)
        else:
            self.hear(control(0, 64, 0 if switch.inverted else 127), 0, 0)
        self.wait(hold_ms * MS)
        if switch.action == "momentary":
            self.hear(control(0, 64, 127 if switch.inverted else 0), 0, 0)
        self.wait(60 * MS)

    def hold(self) -> None:
        """A hold; two presses where the switch cannot tell one."""
        if self.evening.switch.action == "momentary":
            self.press(700)
        else:
            self.press()
            self.press()

    def lead_on(self) -> None:
        """One thing that a player does to bring an intro on."""
        beat = round(TICKS_PER_QUARTER * ns_per_tick(self.tempo))
        if self.state == "tapping":
            self.press()
            self.wait(beat - 120 * MS)
        elif self.state in ("vamping", "out of time", "waiting", "sound check"):
            self.wait(beat)
            self.press()
            self.wait(beat)
        else:
            self.wait(beat)

    def outcome(self) -> list[object]:
        return [self.rehearsal.shown, *[receiver.messages for receiver in self.rehearsal.receivers]]


foot_switches = st.sampled_from(
    [
        FootSwitch(),
        FootSwitch(inverted=True),
        FootSwitch(action="latching"),
        FootSwitch(action="press-only"),
    ]
)
zones = st.builds(KeyZone, minor=st.sampled_from(["tune", "third", "half"]), starts=st.booleans())
with_whatever: dict[str, st.SearchStrategy[Any]] = {
    "lookaheads": st.sampled_from([(0, 0), (0, 30 * MS), (30 * MS, 30 * MS), (60 * MS, 20 * MS)]),
    "committed": st.sampled_from([0, 15 * MS]),
    "switch": foot_switches,
    "zone": zones,
    "tempo": st.sampled_from([60, 132, 132.7, 280]),
    "count_off": st.sampled_from([0, 2, 4]),
    "lead": st.none() | st.builds(ClockLead, st.integers(0, 1), st.sampled_from(["intro", "head"])),
}
evenings = st.one_of(
    st.builds(
        Evening,
        led=st.sampled_from(sorted(LED)),
        follow=st.sampled_from([None, None, 1]),
        orders=st.booleans(),
        **with_whatever,
    ),
    st.builds(Evening, led=st.just("by itself"), orders=st.just(False), **with_whatever),
)
"""Every other is played by arithmetic alone, so that its times can be held to the nanosecond."""


class LiveMachine(RuleBasedStateMachine):
    """Random steps, checked after each."""

    steps_run = 0

    @initialize(evening=evenings)
    def begin(self, evening: Evening) -> None:
        self.stage = Stage(evening)
        self.log: list[tuple[str, tuple[object, ...]]] = []
        self.judged = 0

    def do(self, name: str, *arguments: object) -> None:
        LiveMachine.steps_run += 1
        self.log.append((name, arguments))
        getattr(self.stage, name)(*arguments)

    @rule(ms=st.integers(1, 3_000))
    def time_passes(self, ms: int) -> None:
        self.do("wait", ms * MS)

    @rule(ns=st.integers(0, 2 * NS_PER_SECOND), ms=st.integers(1, 500))
    def a_late_wake_up(self, ns: int, ms: int) -> None:
        self.do("be_late", ns)
        self.do("wait", ms * MS)

    @rule(ms=st.sampled_from([5, 40, 200, 450, 600]), again=st.booleans())
    def a_press(self, ms: int, again: bool) -> None:
        for _ in range(1 + again):
            self.do("hear", control(0, 64, 127), 0, 0)
            self.do("wait", ms * MS)
            self.do("hear", control(0, 64, 0), 0, 0)
            self.do("wait", 35 * MS)

    @rule(value=st.integers(0, 127), age=st.sampled_from([0, 0, 3 * MS, 700 * MS]))
    def a_foot_switch_value(self, value: int, age: int) -> None:
        self.do("hear", control(0, 64, value), 0, age)

    @rule(pitch=st.integers(24, 47), third=st.booleans(), port=st.integers(0, 1))
    def a_key_note(self, pitch: int, third: bool, port: int) -> None:
        self.do("hear", note_on(0, pitch, 70), port, 0)
        if third and pitch + 3 < 128:
            self.do("hear", note_on(0, pitch + 3, 70), port, 0)
        self.do("hear", note_off(0, pitch), port, 0)

    @rule(data=st.binary(max_size=4), port=st.integers(0, 1))
    def garbage(self, data: bytes, port: int) -> None:
        self.do("hear", data, port, 0)

    @rule(port=st.integers(0, 1), before=st.integers(0, 40 * MS), after=st.integers(0, 60 * MS))
    def a_lost_cycle(self, port: int, before: int, after: int) -> None:
        if port not in self.stage.gone:
            self.do("lose", port, before, after)
            self.do("wait", after)  # the span is over when it is told

    @rule(port=st.integers(0, 1))
    def a_port_goes_or_comes(self, port: int) -> None:
        self.do("revive" if port in self.stage.gone else "vanish", port)

    @precondition(lambda self: self.stage.evening.follow is not None)
    @rule(
        tempo=st.sampled_from([58, 132, 300]),
        clocks=st.sampled_from([1, 30, 96]),
        starts=st.booleans(),
    )
    def anothers_clock(self, tempo: float, clocks: int, starts: bool) -> None:
        self.do("be_led", tempo, clocks, starts)

    @precondition(lambda self: self.stage.evening.orders)
    @rule(
        order=st.sampled_from(sorted(Order)),
        part=st.sampled_from([0, 1, 2, 5, 6]),
        value=st.sampled_from([-1, 0, 1, 2, 64, 127]),
    )
    def an_order(self, order: str, part: int, value: int) -> None:
        self.do("order", str(order), part, value)

    @precondition(lambda self: self.stage.evening.orders)
    @rule(
        tonic=st.sampled_from([None, 0, 3, 11]),
        minor=st.sampled_from([None, True, False]),
        tempo=st.sampled_from([None, 96.0, 132.0, 151.5]),  # an hour at 400 is long to test
    )
    def a_key_or_a_tempo_by_name(self, tonic: int | None, minor: bool | None, tempo: float | None) -> None:
        self.do("call", tonic, minor, tempo)

    @precondition(lambda self: self.stage.evening.orders)
    @rule(
        data=st.sampled_from(
            [control(3, 65, 127), control(3, 65, 0), control(0, 11, 40), program(0, 1), b"\xf3\x02"]
            + [note_on(0, pitch, 9) for pitch in (100, 101)]
        )
    )
    def a_control_of_the_rig(self, data: bytes) -> None:
        self.stage.ordered = True
        self.do("hear", data, 0, 0)

    @rule(ask=st.sampled_from(sorted(Ask)), first=st.integers(0, 3), last=st.integers(0, 3))
    def a_lesson(self, ask: str, first: int, last: int) -> None:
        self.do("teach", ask, first, last)

    @rule(away=st.booleans())
    def the_front_stops_or_answers(self, away: bool) -> None:
        self.do("take_leave", away)

    @rule(tune=st.integers(0, 2), tonic=st.integers(0, 11), minor=st.booleans(), own=st.booleans())
    def something_unasked(self, tune: int, tonic: int, minor: bool, own: bool) -> None:
        self.do("bring", tune, tonic, minor, own)

    @rule(
        tunes=st.sets(st.integers(0, 2)).map(lambda tunes: tuple(sorted(tunes))),
        tonics=st.sampled_from([(), (3,), (0, 5)]),
    )
    def some_cannot_be_arranged(self, tunes: tuple[int, ...], tonics: tuple[int, ...]) -> None:
        self.do("refuse", tunes, tonics)

    @rule()
    def the_player_leads_on(self) -> None:
        self.do("lead_on")

    @precondition(lambda self: self.stage.state in ("ready", "in the tune"))
    @rule()
    def an_intro_is_played_through(self) -> None:
        if self.stage.state == "in the tune":
            self.do("wait", NS_PER_SECOND)
            self.do("hold")
        self.do("press")
        for _ in range(14):
            if self.stage.state in ("ready", "in the tune"):
                break
            self.do("lead_on")

    @rule(presses=st.integers(1, 6), ms=st.sampled_from([20, 60, 300]), rests=st.sampled_from([40, 250, 900]))
    def short_presses(self, presses: int, ms: int, rests: int) -> None:
        for _ in range(presses):
            self.do("press", ms)
            self.do("wait", rests * MS)

    @rule(ns=st.integers(NS_PER_SECOND, 3600 * NS_PER_SECOND))
    def the_machine_sleeps(self, ns: int) -> None:
        self.do("sleep", ns)

    @precondition(lambda self: self.stage.state in ("playing", "vamping"))
    @rule()
    def silence_by_a_hold(self) -> None:
        self.do("hold")

    @rule(order=st.permutations((0, 1, 2, 3)), tunes=st.integers(1, 4))
    def the_set_is_saved_in_another_order(self, order: Sequence[int], tunes: int) -> None:
        self.do("reorder", tuple(order[:tunes]))

    # --- what always holds --------------------------------------------------------------------------

    @invariant()
    def what_sounds_is_owed(self) -> None:
        for port, receiver in enumerate(self.stage.rehearsal.receivers):
            owed = Counter(
                {(ch, pitch): count for ch, pitch, count in self.stage.rehearsal.ledger.owed(port)}
            )
            assert receiver.sounding <= owed, (port, receiver.sounding, owed)

    @invariant()
    def nothing_sounds_outside_an_intro(self) -> None:
        stage = self.stage
        if stage.state not in stage.silent_states or stage.now < stage.state_since + max(
            stage.evening.lookaheads
        ):
            return
        for port, receiver in enumerate(stage.rehearsal.receivers):
            if port not in stage.gone:
                assert not stage.sounding(port), (port, stage.state, receiver.sounding)
                if stage.state != "tapping":  # the downbeat that the last tap told may be on its way
                    owed = stage.rehearsal.ledger.owed(port)
                    assert [note for note in owed if note[0] != CUE_CHANNEL] == []

    @invariant()
    def a_press_alone_never_silences(self) -> None:
        """From what plays it goes to ready by a hold, two presses where a switch tells none, or an order."""
        stage = self.stage
        states = stage.rehearsal.states()
        for (_, before), (ns, state) in pairwise(states[max(0, self.judged - 1) :]):
            if before in PLAYING_STATES and state == "ready":
                ordered = any(start <= ns <= end for start, end in stage.silences)
                assert ordered or stage.was_told_to_hold(ns), (before, ns, stage.foot[-6:])
        self.judged = len(states)

    @invariant()
    def it_lands_on_the_head(self) -> None:
        """By arithmetic, where nobody else has a say: the count-off's beats and two bars after the start."""
        stage, evening = self.stage, self.stage.evening
        if evening.led != "by itself" or evening.follow is not None or stage.ordered:
            return
        beat = Fraction(60 * NS_PER_SECOND) / Fraction(str(evening.tempo))
        begun: int | None = None
        for ns, state in stage.rehearsal.states():
            if state == "ready":
                begun = None
            elif state == "in the tune":
                assert begun is not None
                assert abs(ns - begun - (evening.count_off + 8) * beat) <= 1, (ns, begun)
                begun = None
            elif begun is None:
                begun = ns

    @invariant()
    def nobody_is_left_running(self) -> None:
        stage, listener = self.stage, self.stage.listen()
        lead = stage.evening.lead
        if listener is None or lead is None or lead.port in stage.gone or stage.state != "ready":
            return
        if stage.now >= stage.state_since + max(stage.evening.lookaheads):
            assert not listener.runs

    @invariant()
    def no_note_begins_outside_an_intro_or_at_its_head(self) -> None:
        spans = self.intros()
        for receiver in self.stage.rehearsal.receivers:
            for sent in receiver.ons()[-40:]:
                if sent.data[0] & 15 == CUE_CHANNEL:
                    continue
                assert any(start <= sent.actual < head for start, head in spans), (sent, spans)

    def intros(self) -> list[tuple[int, int]]:
        """Each intro from first tick to head; by arithmetic where nobody else has a say, else as shown."""
        evening = self.stage.evening
        if evening.led != "by itself" or evening.follow is not None or self.stage.ordered:
            return self.intros_as_shown()
        beat = TICKS_PER_QUARTER * ns_per_tick(self.stage.evening.tempo)
        before = {"counting off": self.stage.evening.count_off, "playing": 0}
        spans: list[tuple[int, int]] = []
        for ns, state in self.stage.rehearsal.states():
            if state in before and not (
                state == "playing" and spans and ns < spans[-1][1] and before["counting off"]
            ):
                spans.append((ns, round(ns + (before[state] + 8) * beat)))
        return spans

    def intros_as_shown(self) -> list[tuple[int, int]]:
        spans: list[tuple[int, int]] = []
        begun: int | None = None
        for ns, state in self.stage.rehearsal.states():
            if state in (*STARTED_STATES, "sound check") and begun is None:
                begun = ns
            elif state in self.stage.silent_states and begun is not None:
                # What falls on the instant of a silence, or a port has committed before it, still begins; so
                # does what was late, in the instant of the press that is the head's downbeat.
                by_foot = "waits" in LED[self.stage.evening.led]
                last = by_foot if state == "in the tune" else self.stage.evening.committed + 1
                spans.append((begun, ns + last))
                begun = None
        return spans if begun is None else [*spans, (begun, 1 << 62)]

    def teardown(self) -> None:
        if not hasattr(self, "log"):
            return
        try:
            self.same_steps_give_the_same()
            self.the_evening_can_go_on()
            self.quitting_leaves_silence()
        finally:
            self.stage.rehearsal.inbox.close()

    def same_steps_give_the_same(self) -> None:
        again = Stage(self.stage.evening)
        try:
            for name, arguments in self.log:
                getattr(again, name)(*arguments)
            assert again.outcome() == self.stage.outcome()
        finally:
            again.rehearsal.inbox.close()

    def the_evening_can_go_on(self) -> None:
        stage = self.stage
        stage.late.clear()
        for port in tuple(stage.gone):
            stage.revive(port)
        stage.refuse((), ())
        stage.take_leave(False)
        stage.teach(Ask.CLOSE, 0, 0)
        stage.wait(NS_PER_SECOND)  # whatever the foot did last
        stage.press()
        stage.wait(NS_PER_SECOND)
        wanted = ["in the tune", "ready", "in the tune"]
        if stage.state == "sound check":
            stage.press()
        for state in wanted:
            if stage.state == "ready":
                stage.press()
                assert stage.state in (*STARTED_STATES, "tapping"), stage.rehearsal.shown[-3:]
            elif stage.state == "in the tune":
                stage.wait(2 * NS_PER_SECOND)
                stage.hold()
                assert stage.state == "ready"
            for _ in range(40):
                if stage.state in ("ready", "in the tune"):
                    break
                stage.lead_on()
            assert stage.state in ("ready", "in the tune"), (stage.state, stage.rehearsal.shown[-5:])
            self.what_sounds_is_owed()
            self.nothing_sounds_outside_an_intro()
            assert state in wanted

    def quitting_leaves_silence(self) -> None:
        rehearsal = self.stage.rehearsal
        rehearsal.put(self.stage.now, Quit("enough"))
        self.stage.settle()
        assert rehearsal.session.finished
        assert rehearsal.loop.leave() == []
        for port, receiver in enumerate(rehearsal.receivers):
            assert not receiver.sounding
            assert rehearsal.ledger.owed(port) == []
            ons = Counter(sent.data[:2] for sent in receiver.ons())
            offs = Counter(bytes((sent.data[0] | 0x10, sent.data[1])) for sent in receiver.offs())
            assert ons <= offs


QUIETLY = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]

TestLiveMachine = LiveMachine.TestCase
TestLiveMachine.settings = settings(
    max_examples=40, stateful_step_count=40, deadline=None, suppress_health_check=QUIETLY
)


class LongLiveMachine(LiveMachine):
    """The same for minutes, by hand."""


LONG_RUN = 200_000
"""So many steps a long run must take."""


def steps_of(machine: type[LiveMachine], examples: int) -> int:
    """Runs so many examples of at most eighty rules; how many steps were taken on stages."""
    before = LiveMachine.steps_run
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=examples, stateful_step_count=80, deadline=None, suppress_health_check=QUIETLY
        ),
    )
    return LiveMachine.steps_run - before


@pytest.mark.long
def test_a_long_run_keeps_every_promise() -> None:
    steps = steps_of(LongLiveMachine, 1_200)
    print(f"{steps:,} steps")
    assert steps >= LONG_RUN
