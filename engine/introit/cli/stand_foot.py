"""What a page asks for, as the player hears it: its foot, orders, keys and tempi. Pure."""

from __future__ import annotations

from typing import Any

from introit.cli.stand_in import StandIn
from introit.live.events import Called, FrontEvent, Ordered, Taught
from introit.live.setup import FootSwitch
from introit.performance import PARTS


class StandFoot:
    """What a page's commands are for the player. Pure: time comes with each call.

    Args:
        switch: the setup's foot-switch.
    """

    def __init__(self, switch: FootSwitch) -> None:
        self._stand_in = StandIn(switch)

    def events(self, command: dict[str, Any], now: int) -> list[tuple[int, FrontEvent]]:
        """Events with the nanoseconds at which they are due; none for what means nothing here."""
        does = command.get("do")
        if does == "down":
            return list(self._stand_in.down(now))
        if does == "up":
            return list(self._stand_in.up(now))
        if does == "order":
            part = PARTS.index(command["part"]) if command.get("part") in PARTS else 0
            return [(now, Ordered(command["order"], part=part, value=command.get("value", -1)))]
        if does == "key":
            return [(now, Called(tonic=command["tonic"], minor=command["minor"]))]
        if does == "tempo":
            return [(now, Called(tempo=command["tempo"]))]
        if does == "lesson":
            return [(now, Taught(command["ask"], command.get("first", 0), command.get("last", 0)))]
        return []
