"""What a gesture or an order does in each state, and when it may: two tables, which the session executes.

The README prints the same tables for the player; a test compares them row by row.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


class State(StrEnum):
    """Where the session is."""

    READY = "ready"
    TAPPING = "tapping"
    COUNTING_OFF = "counting off"
    PLAYING = "playing"
    VAMPING = "vamping"
    OUT_OF_TIME = "out of time"
    WAITING = "waiting"
    SOUND_CHECK = "sound check"
    PRACTISING = "practising"
    RESTING = "resting"
    IN_THE_TUNE = "in the tune"


class Gesture(StrEnum):
    """What a foot or a hand told."""

    PRESS = "press"
    DOUBLE_PRESS = "double press"
    HOLD = "hold"
    KEY_NOTE = "key note"


class Action(StrEnum):
    """What it makes the session do."""

    NONE = "none"
    START = "start"
    TAP = "tap"
    REKEY = "re-key"
    CANCEL = "cancel"
    SILENCE = "silence"
    NOD = "nod"
    ONCE_MORE = "once more"
    FINISH = "finish early"
    GO_ON = "go on"
    KEEP_TIME = "keep time"
    SAME = "same tune"
    NEXT = "next tune"
    END_CHECK = "end the check"
    MARK = "mark"


class Order(StrEnum):
    """What a second switch, a pedal, a pad or a computer key may order, beside the foot's gestures."""

    NEXT = "next"
    BACK = "back"
    TUNE = "tune"
    ANOTHER_INTRO = "another intro"
    FASTER = "faster"
    SLOWER = "slower"
    TAP_TEMPO = "tap tempo"
    MUTE = "mute"
    LEVEL = "level"
    FIRST_NOTE = "first note"
    SOUND_CHECK = "sound check"
    SILENCE = "silence"


@dataclass(frozen=True, slots=True)
class Guard:
    """When a gesture may act.

    Attributes:
        seconds: so long after the state began.
        beats: so many quarter-note beats of the tune after the state began, on top of the seconds.
        may_start: True when the rig may let it start the intro as well.
        since: what began the state, for people.
        at_bar: True when it takes effect at the next bar line.
    """

    seconds: float = 0.0
    beats: int = 0
    may_start: bool = False
    since: str = "the start"
    at_bar: bool = False

    def __str__(self) -> str:
        if self.at_bar:
            return "at the next bar line"
        if self.seconds:
            return f"from {self.seconds:g} s after {self.since}"
        if self.beats:
            return f"from {self.beats} beat{'s' * (self.beats > 1)} after {self.since}"
        return "at once; starts too if the rig says so" if self.may_start else "at once"


class Row(NamedTuple):
    """One row of the table: in `state`, `gesture` does `action` and leads to one of `leads_to`."""

    state: State
    gesture: Gesture
    action: Action
    leads_to: tuple[State, ...] = ()
    guard: Guard = Guard()


_STARTED = (
    State.COUNTING_OFF,
    State.TAPPING,
    State.PLAYING,
    State.VAMPING,
    State.OUT_OF_TIME,
    State.PRACTISING,
)
_READY = (State.READY,)
_A_BEAT = Guard(beats=1)
_LANDED = Guard(beats=1, since="the landing")
_NEXT_BAR = Guard(at_bar=True)

TABLE: tuple[Row, ...] = (
    Row(State.READY, Gesture.PRESS, Action.START, _STARTED),
    Row(State.READY, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.READY, Gesture.HOLD, Action.NONE),
    Row(State.READY, Gesture.KEY_NOTE, Action.REKEY, _READY, Guard(may_start=True)),
    Row(
        State.TAPPING,
        Gesture.PRESS,
        Action.TAP,
        (State.TAPPING, State.PLAYING, State.VAMPING, State.OUT_OF_TIME, State.IN_THE_TUNE),
    ),
    Row(State.TAPPING, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.TAPPING, Gesture.HOLD, Action.NONE),
    Row(State.TAPPING, Gesture.KEY_NOTE, Action.REKEY, (State.TAPPING,)),
    Row(State.COUNTING_OFF, Gesture.PRESS, Action.CANCEL, _READY, Guard(seconds=0.5)),
    Row(State.COUNTING_OFF, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.COUNTING_OFF, Gesture.HOLD, Action.NONE),
    Row(State.COUNTING_OFF, Gesture.KEY_NOTE, Action.REKEY, (State.COUNTING_OFF,), _NEXT_BAR),
    Row(State.PLAYING, Gesture.PRESS, Action.ONCE_MORE, (State.PLAYING,), _A_BEAT),
    Row(State.PLAYING, Gesture.DOUBLE_PRESS, Action.FINISH, (State.PLAYING,), _A_BEAT),
    Row(State.PLAYING, Gesture.HOLD, Action.SILENCE, _READY),
    Row(State.PLAYING, Gesture.KEY_NOTE, Action.REKEY, (State.PLAYING,), _NEXT_BAR),
    Row(State.VAMPING, Gesture.PRESS, Action.NOD, (State.PLAYING,), _A_BEAT),
    Row(State.VAMPING, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.VAMPING, Gesture.HOLD, Action.SILENCE, _READY),
    Row(State.VAMPING, Gesture.KEY_NOTE, Action.REKEY, (State.VAMPING,), _NEXT_BAR),
    Row(
        State.OUT_OF_TIME,
        Gesture.PRESS,
        Action.GO_ON,
        (State.OUT_OF_TIME, State.TAPPING, State.PLAYING, State.IN_THE_TUNE),
        Guard(seconds=0.4, since="the last chord"),
    ),
    Row(State.OUT_OF_TIME, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.OUT_OF_TIME, Gesture.HOLD, Action.KEEP_TIME, (State.PLAYING,)),
    Row(State.OUT_OF_TIME, Gesture.KEY_NOTE, Action.NONE),
    Row(State.WAITING, Gesture.PRESS, Action.GO_ON, (State.PLAYING, State.TAPPING, State.IN_THE_TUNE)),
    Row(State.WAITING, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.WAITING, Gesture.HOLD, Action.NONE),
    Row(State.WAITING, Gesture.KEY_NOTE, Action.NONE),
    Row(State.SOUND_CHECK, Gesture.PRESS, Action.END_CHECK, _READY),
    Row(State.SOUND_CHECK, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.SOUND_CHECK, Gesture.HOLD, Action.NONE),
    Row(State.SOUND_CHECK, Gesture.KEY_NOTE, Action.NONE),
    Row(State.PRACTISING, Gesture.PRESS, Action.MARK, (State.PRACTISING,), _A_BEAT),
    Row(State.PRACTISING, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.PRACTISING, Gesture.HOLD, Action.SILENCE, _READY),
    Row(State.PRACTISING, Gesture.KEY_NOTE, Action.NONE),
    Row(State.RESTING, Gesture.PRESS, Action.MARK, (State.RESTING,)),
    Row(State.RESTING, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.RESTING, Gesture.HOLD, Action.SILENCE, _READY),
    Row(State.RESTING, Gesture.KEY_NOTE, Action.NONE),
    Row(State.IN_THE_TUNE, Gesture.PRESS, Action.NONE),
    Row(State.IN_THE_TUNE, Gesture.DOUBLE_PRESS, Action.SAME, _READY, _LANDED),
    Row(State.IN_THE_TUNE, Gesture.HOLD, Action.NEXT, _READY, _LANDED),
    Row(State.IN_THE_TUNE, Gesture.KEY_NOTE, Action.NONE),
)

_BY_CASE = {(row.state, row.gesture): row for row in TABLE}


def row_for(state: State, gesture: Gesture) -> Row:
    """The table's row for a state and a gesture; every pair has one."""
    return _BY_CASE[state, gesture]


class OrderRow(NamedTuple):
    """One row of the table of orders: in each of `states`, `order` may be given.

    Attributes:
        order: what is ordered.
        states: where it may be.
        leads_to: the state that follows; None to stay.
        guard: when.
    """

    order: Order
    states: tuple[State, ...]
    leads_to: State | None = None
    guard: Guard = Guard()


_GOES = (State.COUNTING_OFF, State.PLAYING, State.VAMPING)
_PLAYS = (*_GOES, State.OUT_OF_TIME, State.WAITING)

ORDERS: tuple[OrderRow, ...] = (
    OrderRow(Order.NEXT, (State.READY,), State.READY),
    OrderRow(Order.NEXT, (State.IN_THE_TUNE,), State.READY, _LANDED),
    OrderRow(Order.BACK, (State.READY,), State.READY),
    OrderRow(Order.BACK, (State.IN_THE_TUNE,), State.READY, _LANDED),
    OrderRow(Order.TUNE, (State.READY,), State.READY),
    OrderRow(Order.TUNE, (State.IN_THE_TUNE,), State.READY, _LANDED),
    OrderRow(Order.ANOTHER_INTRO, (State.READY,)),
    OrderRow(Order.FASTER, (State.READY, *_PLAYS)),
    OrderRow(Order.SLOWER, (State.READY, *_PLAYS)),
    OrderRow(Order.TAP_TEMPO, (State.READY,)),
    OrderRow(Order.TAP_TEMPO, _GOES, None, _NEXT_BAR),
    OrderRow(Order.MUTE, tuple(State)),
    OrderRow(Order.LEVEL, tuple(State)),
    OrderRow(Order.FIRST_NOTE, (State.READY, State.WAITING)),
    OrderRow(Order.SOUND_CHECK, (State.READY,), State.SOUND_CHECK),
    OrderRow(Order.SOUND_CHECK, (State.SOUND_CHECK,), State.READY),
    OrderRow(
        Order.SILENCE,
        (State.READY, State.TAPPING, *_PLAYS, State.PRACTISING, State.RESTING, State.SOUND_CHECK),
        State.READY,
    ),
    OrderRow(Order.SILENCE, (State.IN_THE_TUNE,)),
)

_BY_ORDER = {(row.order, state): row for row in ORDERS for state in row.states}


def order_row(state: State, order: Order) -> OrderRow | None:
    """The row of an order in a state; None where it may not be given."""
    return _BY_ORDER.get((order, state))


class Ask(StrEnum):
    """What a lesson's page may ask for."""

    OPEN = "open"
    CLOSE = "close"
    ON = "on"
    BACK = "back"
    START = "start"
    LOOP = "loop"


STEPS = {
    Gesture.PRESS: "next chord",
    Gesture.DOUBLE_PRESS: "chord before",
    Gesture.HOLD: "chord before",
}
"""What the foot does in `ready` while a lesson is open, in place of the table; the README prints it."""
