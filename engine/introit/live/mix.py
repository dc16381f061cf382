"""The mix: which parts are muted and how loud each is to be, as the rig begins it and orders change it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from introit.live.setup import Route

Place = tuple[int, int]
"""A port by its index, and a channel from 0."""


@dataclass(frozen=True, slots=True)
class Mix:
    """What orders have made of the rig's mix, so that whoever takes over can go on with it.

    Attributes:
        muted: indexes into `PARTS`, in order.
        levels: part and expression (controller 11), 0 to 127, in the order in which they were set.
    """

    muted: tuple[int, ...] = ()
    levels: tuple[tuple[int, int], ...] = ()

    def to_json(self) -> dict[str, Any]:
        """A value that `from_json` reads back equal."""
        return {"muted": self.muted, "levels": self.levels}

    @classmethod
    def from_json(cls, value: dict[str, Any]) -> Mix:
        """Reads what `to_json` wrote."""
        levels = tuple((part, level) for part, level in value["levels"])
        return cls(tuple(value["muted"]), levels)


class Faders:
    """The mix at work. Pure.

    A part that the rig mutes is closed: nothing at all is told to its channel until an order brings it in.

    Args:
        routes: where each part goes; a part is muted where none of its routes is open.
        mix: what to begin with; None for the rig's own.
    """

    def __init__(self, routes: Sequence[Route], mix: Mix | None = None) -> None:
        self._routes = tuple(routes)
        there = {route.part for route in routes}
        closed = there - {route.part for route in routes if not route.muted}
        self._closed = closed if mix is None else closed & set(mix.muted)
        self.muted = frozenset(closed if mix is None else mix.muted)
        self._levels = {} if mix is None else dict(mix.levels)

    @property
    def mix(self) -> Mix:
        """As it is now."""
        return Mix(tuple(sorted(self.muted)), tuple(self._levels.items()))

    def is_open(self, route: Route) -> bool:
        """Whether anything may be told on the route's channel for its part's sake.

        Of a part with an open route, those that the rig mutes stay closed for good.
        """
        return route.part not in self._closed

    def mute(self, part: int, muted: bool) -> bool:
        """Mutes a part, or has it heard again; whether it is heard for the first time."""
        self.muted = self.muted | {part} if muted else self.muted - {part}
        opened = not muted and part in self._closed
        if opened:
            self._closed = self._closed - {part}
        return opened

    def set_level(self, part: int, value: int) -> None:
        """A part's expression is so from now on."""
        self._levels.pop(part, None)  # what is set last counts, where parts share a channel
        self._levels[part] = value

    def levels(self, which: Callable[[Route], bool]) -> list[tuple[Place, int]]:
        """The expression of each channel that was set, of the open routes that are asked for."""
        found: dict[Place, int] = {}
        for part, value in self._levels.items():
            for route in self._routes:
                if route.part == part and self.is_open(route):
                    found[route.port, route.channel] = value
        asked = {(route.port, route.channel) for route in self._routes if which(route)}
        return sorted((place, value) for place, value in found.items() if place in asked)
