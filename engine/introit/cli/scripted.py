"""A foot and a finger that need no hardware: messages that the front plays through the real loop."""

from __future__ import annotations

import heapq
import itertools
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from introit.library.stage import Rig, RigFootSwitch, RigKeyZone
from introit.live.events import FrontEvent, Played
from introit.live.messages import control, note_off, note_on

_FOOT_CONTROLLER = 64
"""Damper, which most foot-switches send (MIDI 1.0 controller numbers)."""

_FOOT = RigFootSwitch(
    port=None,
    message="control",
    number=_FOOT_CONTROLLER,
    channel=None,
    action="momentary",
    inverted=False,
    on_at=72,
    off_at=56,
)
_ZONE = RigKeyZone(
    port=None, low=24, high=47, channel=None, minor="third", minor_from=36, window_ms=250, starts=False
)


class Sends(Protocol):
    """Whoever passes events on to the player."""

    def send(self, event: FrontEvent) -> None:
        """Passes one on."""


def hands_off(rig: Rig) -> Rig:
    """The rig with a foot-switch and a key zone that a script knows how to work, and no other control."""
    return replace(rig, foot_switch=_FOOT, key_zone=_ZONE, controls=())


class Script:
    """Messages waiting for their moment, in seconds of `clock` (by default the monotonic one)."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._waiting: list[tuple[float, int, bytes]] = []
        self._order = itertools.count()

    def tick(self, front: Sends) -> float | None:
        """Plays what is due; returns the seconds to the next, or None when nothing waits."""
        while self._waiting and self._waiting[0][0] <= self._clock():
            front.send(Played(0, heapq.heappop(self._waiting)[2]))
        return max(0.0, self._waiting[0][0] - self._clock()) if self._waiting else None

    def press(self, *, after: float, down_for: float = 0.1) -> None:
        """A foot that goes down `after` seconds from now, and up again `down_for` seconds later."""
        self._at(after, control(0, _FOOT_CONTROLLER, 127))
        self._at(after + down_for, control(0, _FOOT_CONTROLLER, 0))

    def key(self, *notes: int, after: float) -> None:
        """Notes in the key zone (MIDI 24 to 47), 80 ms apart; a minor third makes it minor."""
        for place, note in enumerate(notes):
            self._at(after + 0.08 * place, note_on(0, note, 90))
            self._at(after + 0.08 * place + 0.05, note_off(0, note))

    def _at(self, after: float, data: bytes) -> None:
        heapq.heappush(self._waiting, (self._clock() + after, next(self._order), data))
