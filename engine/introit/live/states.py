"""What a gesture does in each state, and when it may: one table, which the session executes.

The README prints the same table for the player; a test compares the two row by row.
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


@dataclass(frozen=True, slots=True)
class Guard:
    """When a gesture may act.

    Attributes:
        seconds: so long after the state began.
        beats: so many quarter-note beats of the tune after the state began, on top of the seconds.
        may_start: True when the rig may let it start the intro as well.
        since: what began the state, for people.
    """

    seconds: float = 0.0
    beats: int = 0
    may_start: bool = False
    since: str = "the start"

    def __str__(self) -> str:
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


_STARTED = (State.COUNTING_OFF, State.TAPPING, State.PLAYING, State.VAMPING, State.OUT_OF_TIME)
_READY = (State.READY,)
_A_BEAT = Guard(beats=1)
_LANDED = Guard(beats=1, since="the landing")

TABLE: tuple[Row, ...] = (
    Row(State.READY, Gesture.PRESS, Action.START, _STARTED),
    Row(State.READY, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.READY, Gesture.HOLD, Action.NONE),
    Row(State.READY, Gesture.KEY_NOTE, Action.REKEY, _READY, Guard(may_start=True)),
    Row(
        State.TAPPING,
        Gesture.PRESS,
        Action.TAP,
        (State.TAPPING, State.PLAYING, State.VAMPING, State.OUT_OF_TIME),
    ),
    Row(State.TAPPING, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.TAPPING, Gesture.HOLD, Action.NONE),
    Row(State.TAPPING, Gesture.KEY_NOTE, Action.NONE),
    Row(State.COUNTING_OFF, Gesture.PRESS, Action.CANCEL, _READY, Guard(seconds=0.25)),
    Row(State.COUNTING_OFF, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.COUNTING_OFF, Gesture.HOLD, Action.NONE),
    Row(State.COUNTING_OFF, Gesture.KEY_NOTE, Action.NONE),
    Row(State.PLAYING, Gesture.PRESS, Action.ONCE_MORE, (State.PLAYING,), _A_BEAT),
    Row(State.PLAYING, Gesture.DOUBLE_PRESS, Action.FINISH, (State.PLAYING,), _A_BEAT),
    Row(State.PLAYING, Gesture.HOLD, Action.SILENCE, _READY),
    Row(State.PLAYING, Gesture.KEY_NOTE, Action.NONE),
    Row(State.VAMPING, Gesture.PRESS, Action.NOD, (State.PLAYING,), _A_BEAT),
    Row(State.VAMPING, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.VAMPING, Gesture.HOLD, Action.SILENCE, _READY),
    Row(State.VAMPING, Gesture.KEY_NOTE, Action.NONE),
    Row(
        State.OUT_OF_TIME,
        Gesture.PRESS,
        Action.GO_ON,
        (State.OUT_OF_TIME, State.PLAYING, State.IN_THE_TUNE),
        Guard(seconds=0.25),
    ),
    Row(State.OUT_OF_TIME, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.OUT_OF_TIME, Gesture.HOLD, Action.KEEP_TIME, (State.PLAYING,)),
    Row(State.OUT_OF_TIME, Gesture.KEY_NOTE, Action.NONE),
    Row(State.WAITING, Gesture.PRESS, Action.GO_ON, (State.PLAYING, State.IN_THE_TUNE)),
    Row(State.WAITING, Gesture.DOUBLE_PRESS, Action.NONE),
    Row(State.WAITING, Gesture.HOLD, Action.NONE),
    Row(State.WAITING, Gesture.KEY_NOTE, Action.NONE),
    Row(State.IN_THE_TUNE, Gesture.PRESS, Action.NONE),
    Row(State.IN_THE_TUNE, Gesture.DOUBLE_PRESS, Action.SAME, _READY, _LANDED),
    Row(State.IN_THE_TUNE, Gesture.HOLD, Action.NEXT, _READY, _LANDED),
    Row(State.IN_THE_TUNE, Gesture.KEY_NOTE, Action.NONE),
)

_BY_CASE = {(row.state, row.gesture): row for row in TABLE}


def row_for(state: State, gesture: Gesture) -> Row:
    """The table's row for a state and a gesture; every pair has one."""
    return _BY_CASE[state, gesture]
