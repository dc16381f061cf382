"""The ceiling: how hard and how loud anything may be that is handed to a port, whoever wished for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from introit.live.cue import Cue, Rank
from introit.live.messages import CHANNEL_VOLUME, DATA_MAX, Kind
from introit.live.setup import Route


class _Limits(NamedTuple):
    velocity: int
    level: int


class Ceiling:
    """Holds velocities and channel volumes (controller 7) under what the rig allows. Pure.

    Expression (controller 11) is a part of the channel's volume (RP-003, from memory), so it cannot pass it.
    Of parts that share a channel the lowest counts. A lamp's message is no sound, and passes.

    Args:
        routes: where each part goes, with its limits.
    """

    def __init__(self, routes: Iterable[Route]) -> None:
        self._limits: dict[tuple[int, int], _Limits] = {}
        for route in routes:
            place = (route.port, route.channel)
            before = self._limits.get(place, _Limits(DATA_MAX, DATA_MAX))
            limits = (
                min(before.velocity, route.velocity_at_most),
                min(before.level, route.level_at_most),
            )
            self._limits[place] = _Limits(*limits)
        self._ports = {port for (port, _), limits in self._limits.items() if min(limits) < DATA_MAX}

    def held(self, port: int, cues: Sequence[Cue]) -> Sequence[Cue]:
        """The cues as they may be handed to a port."""
        if port not in self._ports:
            return cues
        return [self._held(port, cue) for cue in cues]

    def _held(self, port: int, cue: Cue) -> Cue:
        status = cue.data[0]
        kind = status & 0xF0
        if cue.rank == Rank.LAMP or kind not in (Kind.NOTE_ON, Kind.CONTROL):
            return cue
        limits = self._limits.get((port, status & 0x0F))
        if limits is None:
            return cue
        if kind == Kind.NOTE_ON:
            most = limits.velocity
        elif cue.data[1] == CHANNEL_VOLUME:
            most = limits.level
        else:
            return cue
        return cue._replace(data=bytes((status, cue.data[1], most))) if cue.data[2] > most else cue
