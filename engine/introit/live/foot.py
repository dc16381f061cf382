"""What a foot-switch sends, read as a foot going down and coming up.

Four kinds of untidiness end here: either polarity, values between up and down (hysteresis), contacts that
bounce, and switches that tell only half of what the foot does.
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


class FootReader:
    """Reads one foot-switch. Pure: time comes with each message.

    The first change acts at once. Changes within `bounce_ms` of it are the contact bouncing; if the switch
    rests elsewhere when that time is over, it counts as a change then, so that no release is ever missed. An
    inverted control's value v is read as 127 - v, an inverted note's note-off as the press.
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
        while self._quiet_from is not None and self._quiet_from <= until:
            ns, self._quiet_from = self._quiet_from, None
            if self._tells_both() and self._raw is not None and self._raw != self._down:
                edges += self._accept(self._raw, ns)  # which is followed by a bounce of its own
        return edges

    @property
    def next_due(self) -> int | None:
        """When `settle` next has something to say."""
        return self._quiet_from if self._tells_both() and self._raw != self._down else None

    def _accept(self, down: bool, ns: int) -> list[Edge]:
        self._down = down
        self._quiet_from = ns + self._bounce
        pressed = down or self._switch.action == "latching"
        return [Edge(Move.DOWN if pressed else Move.UP, ns)]

    def _tells_both(self) -> bool:
        return self._switch.action != "press-only" and self._switch.message != "program"

    def _position(self, message: ChannelMessage) -> bool | None:
        """Down, up, or None for neither (a half-way value, which changes nothing)."""
        switch = self._switch
        if message.kind is Kind.PROGRAM:
            return True
        if message.kind is not Kind.CONTROL:
            return (message.kind is Kind.NOTE_ON) != switch.inverted
        value = DATA_MAX - message.second if switch.inverted else message.second
        if value >= switch.on_at:
            return True
        return False if value <= switch.off_at else None


_KINDS: dict[str, tuple[Kind, ...]] = {
    "control": (Kind.CONTROL,),
    "note": (Kind.NOTE_ON, Kind.NOTE_OFF),
    "program": (Kind.PROGRAM,),
}
