"""Edges of a foot-switch, read as gestures: press, double press, hold.

A press acts the moment the foot goes down. Each press remembers the visit to a state that it fell in; a
double press or a hold counts only if all of it fell in one visit, so a press that starts something can never
also end it.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from introit.live.foot import Edge, Move
from introit.live.states import Gesture
from introit.units import NS_PER_MS

DOUBLE_NS: Final = 400 * NS_PER_MS
"""Two presses at most so far apart are a double press."""
HOLD_NS: Final = 500 * NS_PER_MS
"""A foot down for so long is a hold."""


class Told(NamedTuple):
    """A gesture, at the nanosecond it was complete.

    Attributes:
        gesture: which.
        ns: when it was complete.
        first: when the first of two presses fell, where a double press tells a hold; else None.
    """

    gesture: Gesture
    ns: int
    first: int | None = None


class _Press(NamedTuple):
    ns: int
    visit: int


class Gestures:
    """Reads gestures from edges. Pure: time and the present visit come with each call.

    Args:
        held: whether the switch can be held; where it cannot, a double press tells `Gesture.HOLD`.
    """

    def __init__(self, *, held: bool) -> None:
        self._held = held
        self.reset()

    def reset(self) -> None:
        """Forgets every press."""
        self._first: _Press | None = None
        self._down: _Press | None = None

    def press(self, ns: int, visit: int) -> Told:
        """The foot went down: the press it is. Let it act, then ask `double` with the visit that followed."""
        self._down = _Press(ns, visit) if self._held else None
        return Told(Gesture.PRESS, ns)

    def double(self, ns: int, *, before: int, visit: int) -> Told | None:
        """The double press, if the press at `ns` completes one.

        Args:
            ns: when the foot went down.
            before: the visit in which it did.
            visit: the visit after that press acted; another one when it changed the state.
        """
        first, self._first = self._first, _Press(ns, before)
        if first is None or ns - first.ns > DOUBLE_NS or not first.visit == before == visit:
            return None
        self._first = None
        return Told(Gesture.DOUBLE_PRESS, ns) if self._held else Told(Gesture.HOLD, ns, first.ns)

    def carry(self, visit: int) -> None:
        """The press that is down has led to another visit, and may become a hold there: it ended nothing."""
        if self._down is not None:
            self._down = self._down._replace(visit=visit)

    def edge(self, edge: Edge) -> None:
        """The foot came up: a hold that was not reached is over."""
        if edge.move is Move.UP:
            self._down = None

    @property
    def next_due(self) -> int | None:
        """When a hold is complete, if the foot stays down."""
        return None if self._down is None else self._down.ns + HOLD_NS

    def hold(self, until: int, visit: int) -> Told | None:
        """The hold that is complete by `until`, if its press fell in this visit; told once."""
        if self._down is None or until < self._down.ns + HOLD_NS:
            return None
        press, self._down = self._down, None
        return Told(Gesture.HOLD, press.ns + HOLD_NS) if press.visit == visit else None
