"""What a foot-switch sends, read as a foot going down and coming up.

Five kinds of untidiness end here: either polarity, values between up and down (hysteresis), contacts that
bounce, switches that tell only half of what the foot does, and pedals held down before anybody listened.
"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from introit.live.messages import DATA_MAX, ChannelMessage, Kind
from introit.live.setup import FootSwitch
from introit.units import NS_PER_MS


class Move(StrEnum):
    """What the foot did."""

    DOWN = "down"
    UP = "up"


class Edge(NamedTuple):
    """A move at a nanosecond."""

    move: Move
    ns: int


def can_be_held(switch: FootSwitch) -> bool:
    """Whether the switch tells how long the foot stays down: momentary, and not by program changes."""
    return switch.action == "momentary" and switch.message != "program"


class _Doubt(NamedTuple):
    """A first value that is down and not at its end: where it was, and until when its way is watched."""

    value: int
    until: int


class FootReader:
    """Reads one foot-switch. Pure: time comes with each message.

    The first change acts at once. Changes within `bounce_ms` of it are the contact bouncing; if the switch
    rests elsewhere when that time is over, it counts as a change then, so that no release is ever missed. An
    inverted control's value v is read as 127 - v, an inverted note's note-off as the press.

    A pedal that tells its way, held down while the program starts, comes up through values that are still
    down. So where the very first value is down and not all the way, the next one tells: higher, and it is a
    press; lower, and the foot was down before, so that the first edge is its coming up; none within
    `bounce_ms`, and it is a switch that sends such a value.
    """

    def __init__(self, switch: FootSwitch) -> None:
        self._switch = switch
        self._bounce = switch.bounce_ms * NS_PER_MS
        self.reset()

    def reset(self) -> None:
        """Forgets where the foot was: up, as far as is known."""
        # A latching switch rests anywhere: its first message is a change whatever it says.
        self._down: bool | None = None if self._switch.action == "latching" else False
        self._raw = self._down
        self._quiet_from: int | None = None
        self._new = self._switch.action == "momentary" and self._switch.message == "control"
        self._doubt: _Doubt | None = None

    def matches(self, port: int, message: ChannelMessage) -> bool:
        """Whether a message is this foot-switch's: its port, channel, kind and number."""
        switch = self._switch
        return (
            switch.port in (None, port)
            and switch.channel in (None, message.channel)
            and switch.number in (None, message.first)
            and message.kind in _KINDS[switch.message]
        )

    def read(self, message: ChannelMessage, ns: int) -> list[Edge]:
        """The edges that a message makes; it must match, and `ns` never goes back."""
        edges = self.settle(ns)
        down = self._position(message)
        if self._new or self._doubt is not None:
            first, self._new = self._new, False
            if not self._beyond_doubt(self._value(message), down, ns, first=first):
                return edges
        if down is None:
            return edges
        self._raw = down
        if self._quiet_from is not None:
            return edges
        if not self._tells_both():
            return edges + (self._accept(down, ns) if down else [])
        return edges + (self._accept(down, ns) if down != self._down else [])

    def settle(self, until: int) -> list[Edge]:
        """The edge, if any, that the end of a bounce makes by `until`."""
        edges: list[Edge] = []
        if self._doubt is not None and self._doubt.until <= until:
            ns, self._doubt = self._doubt.until, None
            edges += self._accept(True, ns)
        while self._quiet_from is not None and self._quiet_from <= until:
            ns, self._quiet_from = self._quiet_from, None
            if self._tells_both() and self._raw is not None and self._raw != self._down:
                edges += self._accept(self._raw, ns)  # which is followed by a bounce of its own
        return edges

    @property
    def next_due(self) -> int | None:
        """When `settle` next has something to say."""
        if self._doubt is not None:
            return self._doubt.until
        return self._quiet_from if self._tells_both() and self._raw != self._down else None

    def _beyond_doubt(self, value: int, down: bool | None, ns: int, *, first: bool) -> bool:
        """Whether what the value tells is to be read as usual; else nothing is known yet, or it was held."""
        before, self._doubt = self._doubt, None
        if first:
            if down and value < DATA_MAX:
                self._raw, self._doubt = True, _Doubt(value, ns + self._bounce)
            return self._doubt is None
        if before is not None and value == before.value:
            self._doubt = before
            return False
        if before is not None and value < before.value:
            self._down = True  # it was before, and nobody was told
        return True

    def _accept(self, down: bool, ns: int) -> list[Edge]:
        self._down = down
        self._quiet_from = ns + self._bounce
        pressed = down or self._switch.action == "latching"
        return [Edge(Move.DOWN if pressed else Move.UP, ns)]

    def _tells_both(self) -> bool:
        return self._switch.action != "press-only" and self._switch.message != "program"

    def _value(self, message: ChannelMessage) -> int:
        return DATA_MAX - message.second if self._switch.inverted else message.second

    def _position(self, message: ChannelMessage) -> bool | None:
        """Down, up, or None for neither (a half-way value, which changes nothing)."""
        switch = self._switch
        if message.kind is Kind.PROGRAM:
            return True
        if message.kind is not Kind.CONTROL:
            return (message.kind is Kind.NOTE_ON) != switch.inverted
        value = self._value(message)
        if value >= switch.on_at:
            return True
        return False if value <= switch.off_at else None


_KINDS: dict[str, tuple[Kind, ...]] = {
    "control": (Kind.CONTROL,),
    "note": (Kind.NOTE_ON, Kind.NOTE_OFF),
    "program": (Kind.PROGRAM,),
}
