"""Every row of both tables through the real loop: the state that is reached, and what is heard of it.

The README's tables are the promise; here they are kept, with each kind of foot-switch. No source outside.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from introit.live import gestures
from introit.live.events import Ordered
from introit.live.messages import control, note_on
from introit.live.setup import FootSwitch, KeyZone, Route
from introit.live.states import (
    ORDERS,
    TABLE,
    Action,
    Gesture,
    Order,
    OrderRow,
    Row,
    State,
    order_row,
    row_for,
)
from introit.performance import PARTS, PlayedNote, Wait
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.testing.sketch import BASS, CLICK, COMP, MELODY
from introit.units import NS_PER_MS, TICKS_PER_QUARTER

MS = NS_PER_MS
BEAT = 500
"""Milliseconds, at 120."""
BAR = 4 * TICKS_PER_QUARTER
COMP_CHANNEL, BASS_CHANNEL, CUE_CHANNEL = 1, 2, 12
KINDS = {
    "momentary": FootSwitch(),
    "inverted": FootSwitch(inverted=True),
    "latching": FootSwitch(action="latching"),
    "press-only": FootSwitch(action="press-only"),
}
TAPPED: dict[str, Any] = {"tapped": True}
THEN_TAPPED: dict[str, Any] = {"tapped_on": True}
VAMP: dict[str, Any] = {"vamp": (0, 2 * BAR)}
FREE: dict[str, Any] = {
    "waits": tuple(Wait(bar * BAR + 500, (bar + 1) * BAR) for bar in range(3)),
    "out_of_time": True,
}
RESTED: dict[str, Any] = {"rest": 4 * BAR}
HELD: dict[str, Any] = {"waits": (Wait(BAR + 700, 2 * BAR, fermata=True),)}


class Stand:
    """A player with one foot-switch; times are milliseconds."""

    def __init__(self, kind: str, *, bars: int = 4, count_off: int = 0, **changes: Any) -> None:
        self.switch = KINDS[kind]
        note = PlayedNote(0, 480, 0, PARTS.index("cue"), 60, 40)
        self.front = SketchFront(
            bars=bars,
            count_off=count_off,
            intros=("sketch", "sketch"),
            changes=changes | {"first_note": (note,)},
        )
        setup = sketch_setup(
            tunes=3,
            foot_switch=self.switch,
            key_zone=KeyZone(minor="tune"),
            routes=tuple(
                Route(part, 0, channel)
                for part, channel in ((MELODY, 0), (COMP, 1), (BASS, 2), (CLICK, 9), (note.part, CUE_CHANNEL))
            ),
        )
        self.rehearsal = Rehearsal(setup, self.front)
        self._rests_high = False
        self.wait(1_000)

    @property
    def now(self) -> int:
        """Milliseconds since the beginning."""
        return self.rehearsal.clock.now() // MS

    @property
    def state(self) -> str:
        return self.rehearsal.session.state

    def wait(self, ms: int) -> None:
        self.rehearsal.advance(self.rehearsal.clock.now() + ms * MS)

    def wait_for(self, state: State, *, at_most: int = 30_000) -> None:
        limit = self.now + at_most
        while self.state != state:
            assert self.now < limit, (state, self.rehearsal.states())
            self.wait(1)

    def hear(self, data: bytes) -> None:
        self.rehearsal.play([(self.rehearsal.clock.now(), data)])
        self.wait(0)
        self.wait(0)

    def press(self, down_for: int = 60) -> None:
        """The foot goes down and up, as this switch tells it."""
        if self.switch.action == "latching":
            self._rests_high = not self._rests_high
            self.hear(control(0, 64, 127 * self._rests_high))
        else:
            self.hear(control(0, 64, 0 if self.switch.inverted else 127))
        self.wait(down_for)
        if self.switch.action == "momentary":
            self.hear(control(0, 64, 127 if self.switch.inverted else 0))

    def double_press(self) -> None:
        self.press()
        self.wait(140)
        self.press()

    def hold(self) -> None:
        """What tells a hold: a foot that stays down, or two presses where that is not told."""
        if self.switch.action == "momentary":
            self.press(600)
        else:
            self.double_press()

    def order(self, order: Order, part: int = COMP, value: int = -1) -> None:
        self.rehearsal.say(self.rehearsal.clock.now(), Ordered(str(order), part, value))
        self.wait(0)
        self.wait(0)

    def ons(self, channel: int | None = None, *, since: int = 0) -> list[tuple[int, bytes]]:
        """Note-ons from a millisecond on, with theirs; without the cue, unless it is asked for."""
        return [
            (sent.actual // MS, sent.data)
            for sent in self.rehearsal.receivers[0].ons()
            if sent.actual >= since * MS
            and (sent.data[0] & 15 == channel if channel is not None else sent.data[0] & 15 != CUE_CHANNEL)
        ]

    def notes(self) -> list[str]:
        """What was said."""
        return [shown.text for shown in self.rehearsal.shown if shown.what == "note"]

    def shown_key(self) -> str:
        """The key that was shown last."""
        return [shown.key for shown in self.rehearsal.shown if shown.key][-1]

    def is_silent(self) -> bool:
        """Nothing sounds, and for four seconds nothing is struck."""
        sounding, since = dict(self.rehearsal.receivers[0].sounding), self.now
        self.wait(4_000)
        return not sounding and not self.ons(since=since)

    def outcome(self) -> tuple[Any, Any]:
        return self.rehearsal.states(), list(self.rehearsal.receivers[0].messages)

    def close(self) -> None:
        self.rehearsal.inbox.close()


BUILT: list[Stand] = []


@pytest.fixture(autouse=True)
def put_away() -> Iterator[None]:
    """Closes what a test has built, however it ends."""
    yield
    while BUILT:
        BUILT.pop().close()


@dataclass(frozen=True)
class Scene:
    """How a state is come to.

    Attributes:
        state: which.
        changes: what the tune is like.
        gaps: the foot is pressed once for each of them, and so many milliseconds pass after that: the last
            is longer than the state's guard.
    """

    state: State
    changes: dict[str, Any] = field(default_factory=dict)
    gaps: tuple[int, ...] = (700,)

    def reach(self, kind: str) -> Stand:
        """Comes to the state."""
        stand = Stand(kind, **self.changes)
        BUILT.append(stand)
        if self.state is State.SOUND_CHECK:
            stand.order(Order.SOUND_CHECK)
            stand.wait(700)
        for gap in self.gaps if self.state not in (State.READY, State.SOUND_CHECK) else ():
            stand.press()
            stand.wait(gap - 60)
        assert stand.state == self.state, stand.rehearsal.states()
        return stand


SCENES = {
    State.READY: Scene(State.READY),
    State.TAPPING: Scene(State.TAPPING, TAPPED, (BEAT,)),
    State.COUNTING_OFF: Scene(State.COUNTING_OFF, {"count_off": 4}),
    State.PLAYING: Scene(State.PLAYING, {"once_more": True}),
    State.VAMPING: Scene(State.VAMPING, VAMP),
    State.OUT_OF_TIME: Scene(State.OUT_OF_TIME, FREE),
    State.WAITING: Scene(State.WAITING, HELD, (3_000,)),
    State.SOUND_CHECK: Scene(State.SOUND_CHECK),
    State.PRACTISING: Scene(State.PRACTISING, RESTED),
    State.RESTING: Scene(State.RESTING, RESTED | {"bars": 1}, (3_000,)),
    State.IN_THE_TUNE: Scene(State.IN_THE_TUNE, {"bars": 1}, (3_000,)),
}
"""One way to each state."""


@dataclass(frozen=True)
class Case:
    """A row of the table, one of the states that it leads to, and what then must have happened.

    Attributes:
        effect: told the stand and the millisecond of the gesture.
        after: so many milliseconds after its beginning the state is come to, where that is not at once.
    """

    row: Row
    to: State
    effect: Callable[[Stand, int], None]
    scene: Scene
    after: int = 0

    def __str__(self) -> str:
        return f"{self.row.state}, {self.row.gesture}, {self.to}"


# --- what must have happened, told the stand and the millisecond of the gesture -----------------------------


def starts(stand: Stand, at: int) -> None:
    """The first note, or the first click, is struck with the press."""
    assert stand.ons()[0][0] == at


def is_over(stand: Stand, _at: int) -> None:
    assert stand.is_silent()
    assert stand.state == State.READY


def lands_at_once(stand: Stand, at: int) -> None:
    """The head's downbeat is the press."""
    assert stand.ons(since=at + 1) == []
    assert (at * MS, "in the tune") in stand.rehearsal.states()


def goes_on_at_once(stand: Stand, at: int) -> None:
    """What follows is struck with the press."""
    assert stand.ons(COMP_CHANNEL, since=at)[0][0] == at


def lands_after(ms: int) -> Callable[[Stand, int], None]:
    """The head comes so long after the intro began."""

    def check(stand: Stand, _at: int) -> None:
        begun = stand.ons(COMP_CHANNEL)[0][0]
        stand.wait_for(State.IN_THE_TUNE)
        assert stand.rehearsal.states()[-1] == ((begun + ms) * MS, "in the tune")

    return check


def keeps_time(stand: Stand, _at: int) -> None:
    """It comes to the head without any press."""
    stand.wait_for(State.IN_THE_TUNE)
    assert len(stand.ons(COMP_CHANNEL)) == 4 * 3  # a chord of three notes in each of four bars


def taps(stand: Stand, at: int) -> None:
    """The second tap is no bar yet; the bar is full with the fourth, and the downbeat is a beat behind it."""
    assert stand.ons() == []
    for _ in range(2):
        stand.wait(at + BEAT - stand.now)
        at = stand.now
        stand.press()
    stand.wait(2 * BEAT)
    assert stand.ons()[0][0] == at + BEAT


def enters_on_the_beat(stand: Stand, at: int) -> None:
    """A beat after the last tap of a bar."""
    assert stand.rehearsal.states()[-1][0] == (at + BEAT) * MS


def begins_to_tap_on(stand: Stand, at: int) -> None:
    """Four taps a beat apart, and the next bar begins a beat after the last."""
    first = at
    for _ in range(3):
        stand.wait(at + BEAT - stand.now)
        at = stand.now
        stand.press()
    stand.wait(2 * BEAT)
    assert stand.ons(since=first)[0][0] == first + 4 * BEAT


def is_ready_in_d(stand: Stand, _at: int) -> None:
    assert stand.shown_key() == "D"
    stand.press()
    stand.wait(10)
    assert stand.ons(BASS_CHANNEL)[0][1] == note_on(BASS_CHANNEL, 38, 80)


def begins_in_d(stand: Stand, _at: int) -> None:
    if stand.state == State.TAPPING:
        for _ in range(4):
            stand.press()
            stand.wait(BEAT - 60)
    stand.wait_for(State.PLAYING)
    stand.wait(10)
    assert stand.ons(BASS_CHANNEL)[0][1] == note_on(BASS_CHANNEL, 38, 80)


def goes_on_in_d(stand: Stand, at: int) -> None:
    """From the next bar line on, and not before."""
    begun = stand.ons(BASS_CHANNEL)[0][0]
    line = begun + ((at - begun) // (4 * BEAT) + 1) * 4 * BEAT
    stand.wait(line + 10 - stand.now)
    pitches = {on[1] for _, on in stand.ons(BASS_CHANNEL)[:-1]}
    assert pitches == {36}
    assert stand.ons(BASS_CHANNEL)[-1] == (line, note_on(BASS_CHANNEL, 38, 80))


def is_marked(stand: Stand, at: int) -> None:
    """It is told when the foot went down, and the music goes on as it would have."""
    assert [shown.ns for shown in stand.rehearsal.shown if shown.what == "mark"] == [at * MS]
    begun = stand.ons(COMP_CHANNEL)[0][0]
    bars = 4 if stand.state == State.PRACTISING else 1
    stand.wait(2 * (bars + 4) * 4 * BEAT + begun - stand.now - 1)
    chords = sorted({ms for ms, _ in stand.ons(COMP_CHANNEL)})
    again = begun + (bars + 4) * 4 * BEAT
    assert chords == [first + bar * 4 * BEAT for first in (begun, again) for bar in range(bars)]


def is_ready_again(stand: Stand, _at: int) -> None:
    assert stand.shown_key() == "C"
    assert stand.is_silent()
    before = len(stand.ons())
    stand.press()
    stand.wait(10)
    assert stand.ons(BASS_CHANNEL)[-1][1] == note_on(BASS_CHANNEL, 36, 80)
    assert len(stand.ons()) > before


def is_the_next_tune(stand: Stand, _at: int) -> None:
    assert stand.shown_key() == "F"  # the tunes' own keys rise by a fourth
    assert stand.is_silent()
    stand.press()
    stand.wait(10)
    assert stand.ons(BASS_CHANNEL)[-1][1] == note_on(BASS_CHANNEL, 41, 80)


def cases() -> list[Case]:
    """Each row that does something, to each state that it leads to."""

    def case(
        state: State,
        gesture: Gesture,
        to: State,
        effect: Callable[[Stand, int], None],
        changes: dict[str, Any] | None = None,
        gaps: tuple[int, ...] = (700,),
        *,
        after: int = 0,
    ) -> Case:
        scene = SCENES[state] if changes is None else Scene(state, changes, gaps)
        return Case(row_for(state, gesture), to, effect, scene, after)

    ready, tapping, playing = State.READY, State.TAPPING, State.PLAYING
    counting, vamping, free = State.COUNTING_OFF, State.VAMPING, State.OUT_OF_TIME
    waiting, checking, tune = State.WAITING, State.SOUND_CHECK, State.IN_THE_TUNE
    practising, resting = State.PRACTISING, State.RESTING
    press, double, hold, key = Gesture.PRESS, Gesture.DOUBLE_PRESS, Gesture.HOLD, Gesture.KEY_NOTE
    free_once = {"waits": (Wait(500, BAR),), "out_of_time": True}
    free_to_the_head = {"waits": (Wait(500, 4 * BAR),), "out_of_time": True}
    held_to_the_head = {"waits": (Wait(4 * BAR - 200, 4 * BAR, fermata=True),)}
    three_taps = (BEAT, BEAT, BEAT)
    return [
        case(ready, press, counting, starts, {"count_off": 4}),
        case(ready, press, tapping, begins_to_tap_on, TAPPED),
        case(ready, press, playing, starts),
        case(ready, press, vamping, starts, VAMP),
        case(ready, press, free, starts, FREE),
        case(ready, press, practising, starts, RESTED),
        case(ready, key, ready, is_ready_in_d),
        case(tapping, press, tapping, taps),
        *(
            case(tapping, press, to, enters_on_the_beat, TAPPED | changes, three_taps, after=BEAT)
            for to, changes in ((playing, {}), (vamping, VAMP), (free, FREE))
        ),
        case(
            tapping,
            press,
            tune,
            enters_on_the_beat,
            held_to_the_head | THEN_TAPPED,
            (9_000, *three_taps),
            after=BEAT,
        ),
        case(tapping, key, tapping, begins_in_d),
        case(counting, press, ready, is_over),
        case(counting, key, counting, begins_in_d),
        case(playing, press, playing, lands_after(2 * 8_000)),
        case(playing, double, playing, lands_after(4_000)),
        case(playing, hold, ready, is_over),
        case(playing, key, playing, goes_on_in_d),
        case(vamping, press, playing, lands_after(8_000), {"vamp": (0, 4 * BAR)}),
        case(vamping, hold, ready, is_over),
        case(vamping, key, vamping, goes_on_in_d),
        case(free, press, free, goes_on_at_once),
        case(free, press, tapping, begins_to_tap_on, free_once | THEN_TAPPED),
        case(free, press, playing, goes_on_at_once, free_once),
        case(free, press, tune, lands_at_once, free_to_the_head),
        case(free, hold, playing, keeps_time),
        case(waiting, press, playing, goes_on_at_once),
        case(waiting, press, tapping, begins_to_tap_on, HELD | THEN_TAPPED, (3_000,)),
        case(waiting, press, tune, lands_at_once, held_to_the_head, (9_000,)),
        case(checking, press, ready, is_over),
        case(practising, press, practising, is_marked),
        case(practising, hold, ready, is_over),
        case(resting, press, resting, is_marked),
        case(resting, hold, ready, is_over),
        case(tune, double, ready, is_ready_again),
        case(tune, hold, ready, is_the_next_tune),
    ]


def do(stand: Stand, gesture: Gesture) -> None:
    """The foot, or the hand in the key zone, does it.

    In a vamp, a switch that cannot be held has nodded with its first press already: there the README has it
    nod first, and press twice a beat later.
    """
    if gesture is Gesture.HOLD and stand.state == State.VAMPING and stand.switch.action != "momentary":
        stand.press()
        stand.wait(700)
    if gesture is Gesture.KEY_NOTE:
        stand.hear(note_on(5, 26, 70))  # a D
        stand.wait(60)
    elif gesture is Gesture.PRESS:
        stand.press()
    elif gesture is Gesture.DOUBLE_PRESS:
        stand.double_press()
    else:
        stand.hold()


def can_tell(kind: str, gesture: Gesture) -> bool:
    """A switch that cannot be held tells no double press: that is its hold."""
    return gesture is not Gesture.DOUBLE_PRESS or KINDS[kind].action == "momentary"


TOLD = [
    pytest.param(case, kind, id=f"{case}, {kind}")
    for case in cases()
    for kind in KINDS
    if can_tell(kind, case.row.gesture)
]


@pytest.mark.parametrize(("case", "kind"), TOLD)
def test_a_row_leads_where_the_table_says_and_is_heard(case: Case, kind: str) -> None:
    stand = case.scene.reach(kind)
    at = stand.now
    do(stand, case.row.gesture)
    stand.wait(max(0, at + case.after - stand.now))
    assert case.to in case.row.leads_to
    assert stand.state == case.to, stand.rehearsal.states()
    case.effect(stand, at)


def test_each_row_is_driven_to_each_state_it_leads_to() -> None:
    driven = {(case.row, case.to) for case in cases()}
    assert driven == {(row, to) for row in TABLE for to in row.leads_to}
    assert all(row.leads_to or row.action is Action.NONE for row in TABLE)


INERT = [
    (row, kind)
    for row in TABLE
    for kind in KINDS
    if row.action is Action.NONE and row.gesture is not Gesture.PRESS and can_tell(kind, row.gesture)
]


@pytest.mark.parametrize(
    ("row", "kind"),
    INERT,
    ids=lambda value: value if isinstance(value, str) else f"{value.state}, {value.gesture}",
)
def test_a_row_that_does_nothing_is_heard_as_its_presses_alone(
    row: Row, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is heard and reached is the same as where nobody reads holds, double presses and key notes."""
    outcomes = []
    for deaf in (False, True):
        with monkeypatch.context() as patch:
            stand = SCENES[row.state].reach(kind)
            if deaf:
                patch.setattr(gestures, "HOLD_NS", 1 << 60)
                patch.setattr(gestures, "DOUBLE_NS", 0)
            if row.gesture is not Gesture.KEY_NOTE or not deaf:
                do(stand, row.gesture)
            else:
                stand.wait(60)
            stand.wait(20_000)
            outcomes.append(stand.outcome())
    assert outcomes[0] == outcomes[1]


def test_a_press_in_the_tune_does_nothing() -> None:
    stand = SCENES[State.IN_THE_TUNE].reach("momentary")
    before = stand.outcome()
    stand.press()
    stand.wait(5_000)
    assert stand.outcome() == before
    assert [row.state for row in TABLE if row.gesture is Gesture.PRESS and row.action is Action.NONE] == [
        State.IN_THE_TUNE
    ]


# --- orders ---------------------------------------------------------------------------------------------


def in_key(key: str) -> Callable[[Stand, int], None]:
    """That tune is ready, and starts."""

    def check(stand: Stand, _at: int) -> None:
        assert stand.shown_key() == key
        before = len(stand.ons())
        stand.press()
        stand.wait(10)
        assert len(stand.ons()) > before

    return check


def another_intro(stand: Stand, _at: int) -> None:
    assert stand.rehearsal.wanted[-1].request.intro == 1


def at_tempo(tempo: int) -> Callable[[Stand, int], None]:
    """It is the tempo: of what is ready, at once; of what plays, within a bar or two."""

    def check(stand: Stand, _at: int) -> None:
        if stand.state == State.READY:
            stand.press()
        elif stand.state == State.OUT_OF_TIME:
            stand.hold()  # so that it goes on in time
        elif stand.state in (State.VAMPING, State.WAITING):
            stand.press()  # so that it goes on
        stand.wait(5_000)
        before, last = stand.rehearsal.beats()[-2:]
        assert last.tempo == tempo
        assert last.ns - before.ns == pytest.approx(60 * 1_000 * MS / tempo, abs=1)

    return check


def comp_is_muted(stand: Stand, at: int) -> None:
    assert stand.notes()[-1] == "comp muted"
    for _ in range(4):
        stand.wait(700)
        stand.press()
    stand.wait(6_000)
    assert stand.ons(COMP_CHANNEL, since=at + 1) == []


def comp_is_softer(stand: Stand, at: int) -> None:
    messages = [sent for sent in stand.rehearsal.receivers[0].messages if sent.actual >= at * MS]
    assert control(COMP_CHANNEL, 11, 64) in [sent.data for sent in messages]


def first_note_is_heard(stand: Stand, at: int) -> None:
    assert stand.ons(CUE_CHANNEL, since=at) == [(at, note_on(CUE_CHANNEL, 60, 40))]


def bass_is_checked(stand: Stand, at: int) -> None:
    stand.wait(2_000)
    assert stand.ons(since=at) == stand.ons(BASS_CHANNEL, since=at) != []


def nothing_sounds(stand: Stand, _at: int) -> None:
    assert stand.is_silent()


def effect_of(order: Order, state: State) -> Callable[[Stand, int], None]:
    """What an order must have done."""
    checks: dict[Order, Callable[[Stand, int], None]] = {
        Order.NEXT: in_key("F"),
        Order.BACK: in_key("Bb"),
        Order.TUNE: in_key("Bb"),
        Order.ANOTHER_INTRO: another_intro,
        Order.FASTER: at_tempo(122),
        Order.SLOWER: at_tempo(118),
        Order.TAP_TEMPO: at_tempo(150),
        Order.MUTE: comp_is_muted,
        Order.LEVEL: comp_is_softer,
        Order.FIRST_NOTE: first_note_is_heard,
        Order.SOUND_CHECK: nothing_sounds if state is State.SOUND_CHECK else bass_is_checked,
        Order.SILENCE: nothing_sounds,
    }
    return checks[order]


def give(stand: Stand, order: Order) -> int:
    """Gives it; four times, a beat at 150 apart, where it is tapped. Returns when it was complete."""
    if order is Order.TAP_TEMPO:
        for _ in range(3):
            stand.order(order)
            stand.wait(400)
    at = stand.now
    stand.order(order, value={Order.TUNE: 2, Order.LEVEL: 64}.get(order, -1))
    return at


GIVEN = [(row, state) for row in ORDERS for state in row.states]


@pytest.mark.parametrize(("row", "state"), GIVEN, ids=lambda value: getattr(value, "order", value))
def test_an_order_leads_where_the_table_says_and_is_heard(row: OrderRow, state: State) -> None:
    stand = SCENES[state].reach("momentary")
    at = give(stand, row.order)
    assert stand.state == (row.leads_to or state)
    effect_of(row.order, state)(stand, at)


REFUSED = [(order, state) for order in Order for state in State if order_row(state, order) is None]


@pytest.mark.parametrize(("order", "state"), REFUSED, ids=str)
def test_an_order_without_a_row_is_refused_in_words_and_changes_nothing(order: Order, state: State) -> None:
    outcomes = []
    for given in (False, True):
        stand = SCENES[state].reach("momentary")
        if given:
            stand.order(order)
            assert stand.notes()[-1] == f"{order}: not while {state}"
        else:
            stand.wait(0)
        stand.wait(20_000)
        outcomes.append(stand.outcome())
    assert outcomes[0] == outcomes[1]
