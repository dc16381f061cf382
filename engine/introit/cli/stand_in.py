"""A key in place of the foot: what the rig's own foot-switch would send. Pure: time comes with each call.

A terminal tells that a key was struck, never that it came up. So a stroke is a whole press, down and up, and
a hold has a key of its own. A switch that cannot be held is pressed twice instead, as a foot would.
"""

from __future__ import annotations

from typing import NamedTuple

from introit.live.events import Played
from introit.live.foot import can_be_held
from introit.live.gestures import HOLD_NS
from introit.live.messages import DAMPER, DATA_MAX, control, note_off, note_on, program
from introit.live.setup import FootSwitch, Setup
from introit.units import NS_PER_MS

PRESS_NS = 60 * NS_PER_MS
"""From down to up in a press: longer than a contact bounces, shorter than two strokes lie apart."""
GAP_NS = 40 * NS_PER_MS
"""From up to the next down where a key came sooner: longer than a contact bounces."""
PAST_HOLD_NS = 100 * NS_PER_MS
TWICE_NS = 200 * NS_PER_MS
"""From one press to the next in a double press; at most 400 ms may lie between them."""
_NOTE, _VELOCITY = 60, 100
"""What is sent where the rig takes any note."""


class Timed(NamedTuple):
    """A message due at a nanosecond."""

    ns: int
    played: Played


def foot_of(setup: Setup) -> FootSwitch:
    """The setup's foot-switch; where it has none, one that nothing but a key can press.

    That lies on a port beyond those that there are, so that no device is taken for it.
    """
    return setup.foot_switch or FootSwitch(port=len(setup.ports))


class StandIn:
    """Presses and holds a foot-switch in its own language.

    Args:
        switch: the setup's; a latching one is taken to rest where its first message changes it.
    """

    def __init__(self, switch: FootSwitch) -> None:
        self._switch = switch
        self._on = False
        self._busy_until = 0
        self._is_down = False

    def press(self, now: int) -> list[Timed]:
        """Messages of a press at `now`, or once a press just before is over; none while a hold lasts."""
        begin = self._begin(now)
        if begin is None:
            return []
        self._busy_until = begin + PRESS_NS
        return self._press(begin)

    def down(self, now: int) -> list[Timed]:
        """Messages of a foot that goes down; a switch that tells no more is pressed."""
        if not can_be_held(self._switch):
            return self.press(now)
        self._is_down = True
        return [self._message(now, down=True)]

    def up(self, now: int) -> list[Timed]:
        """Messages of a foot that comes up; none where it is up."""
        if not self._is_down:
            return []
        self._is_down = False
        return [self._message(now, down=False)]

    def hold(self, now: int) -> list[Timed]:
        """Messages of a hold, likewise, or of a double press where the switch cannot be held."""
        begin = self._begin(now)
        if begin is None:
            return []
        if not can_be_held(self._switch):
            self._busy_until = begin + TWICE_NS + PRESS_NS
            return [*self._press(begin), *self._press(begin + TWICE_NS)]
        up = begin + HOLD_NS + PAST_HOLD_NS
        self._busy_until = up
        return [self._message(begin, down=True), self._message(up, down=False)]

    def _begin(self, now: int) -> int | None:
        if now >= self._busy_until:
            return now
        return self._busy_until + GAP_NS if self._busy_until - now <= PRESS_NS else None

    def _press(self, now: int) -> list[Timed]:
        if self._switch.action == "latching":
            self._on = not self._on
            return [self._message(now, down=self._on)]
        down = self._message(now, down=True)
        if not can_be_held(self._switch):
            return [down]
        return [down, self._message(now + PRESS_NS, down=False)]

    def _message(self, ns: int, *, down: bool) -> Timed:
        return Timed(ns, Played(self._switch.port or 0, _data(self._switch, down=down)))


def _data(switch: FootSwitch, *, down: bool) -> bytes:
    channel = switch.channel or 0
    high = down != switch.inverted
    if switch.message == "program":
        return program(channel, switch.number or 0)
    if switch.message == "note":
        pitch = _NOTE if switch.number is None else switch.number
        return note_on(channel, pitch, _VELOCITY) if high else note_off(channel, pitch)
    number = DAMPER if switch.number is None else switch.number
    return control(channel, number, DATA_MAX if high else 0)
