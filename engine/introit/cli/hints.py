"""What the foot can do in each state, in a few words, from the very table that the session executes."""

from __future__ import annotations

from introit.live.foot import can_be_held
from introit.live.setup import Setup
from introit.live.states import TABLE, Action, Gesture, Row, State


def hints(setup: Setup) -> dict[str, str]:
    """For each state's name, such as `in the tune`, a text such as `hold: next tune`."""
    return {state.value: ", ".join(_told(state, setup)) for state in State}


_WHERE_ALLOWED = (Action.NONE, Action.ONCE_MORE, Action.FINISH)
"""Not told in general: nothing, and what only some tunes allow, which is told as they play."""


def _told(state: State, setup: Setup) -> list[str]:
    rows = [row for row in TABLE if row.state is state and row.action not in _WHERE_ALLOWED]
    texts = [_hint(row, setup) for row in rows]
    return [text for text in texts if text]


def _hint(row: Row, setup: Setup) -> str:
    if row.gesture is Gesture.KEY_NOTE:
        return f"key note: {row.action.value}" if setup.key_zone else ""
    if setup.foot_switch is None:
        return ""
    if can_be_held(setup.foot_switch):
        return f"{row.gesture.value}: {row.action.value}"
    if row.gesture is Gesture.DOUBLE_PRESS:
        return ""  # a switch that cannot be held spends its double press on what a hold does
    gesture = Gesture.DOUBLE_PRESS if row.gesture is Gesture.HOLD else row.gesture
    return f"{gesture.value}: {row.action.value}"
