"""All that feet and hands tell: the foot-switch's gestures, notes that name the key, other controls."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from introit.live.controls import Controls
from introit.live.events import Ordered
from introit.live.foot import Edge, FootReader, Move, can_be_held
from introit.live.gestures import Gestures, Told
from introit.live.keynote import KeyNamer, Named
from introit.live.messages import ChannelMessage, SystemMessage
from introit.live.setup import Setup

Act = Callable[[Told], int]
"""Lets a gesture act; returns the visit to a state that the session is in then."""


class Feet:
    """Reads the rig's controls. Pure: time and the present visit come with each call.

    Args:
        setup: the foot-switch and the key zone.
        act: called with each gesture in the moment it is complete, before the next message is read.
        obey: the same for each order.
    """

    def __init__(self, setup: Setup, act: Act, obey: Callable[[Ordered], int]) -> None:
        foot = setup.foot_switch
        self._switch = foot
        self._foot = None if foot is None else FootReader(foot)
        self._gestures = Gestures(held=foot is not None and can_be_held(foot))
        self._namer = None if setup.key_zone is None else KeyNamer(setup.key_zone)
        self._controls = Controls(setup.controls)
        self._act = act
        self._obey = obey

    @property
    def next_due(self) -> int | None:
        """When `settle` or `close` next has something."""
        dues = (
            None if self._foot is None else self._foot.next_due,
            self._gestures.next_due,
            None if self._namer is None else self._namer.next_due,
            self._controls.next_due,
        )
        return min((due for due in dues if due is not None), default=None)

    def hear(
        self, port: int, message: ChannelMessage | SystemMessage, ns: int, *, visit: int, names_key: bool
    ) -> Named | None:
        """Reads a message of a device; gestures of the foot and orders act at once.

        Args:
            port: where it came in.
            message: what came in.
            ns: when.
            visit: the present one.
            names_key: whether a note in the key zone names a key just now.

        Returns:
            The key, if it named one.
        """
        is_foot = isinstance(message, ChannelMessage) and self._is_foot(port, message)
        if not is_foot:
            for order in self._controls.hear(port, message, ns):
                self._obey(order)
        if isinstance(message, SystemMessage):
            return None
        if is_foot and self._foot is not None:
            self._move(self._foot.read(message, ns), visit)
        elif names_key and self._namer is not None and self._namer.matches(port, message):
            return self._namer.read(message.first, ns)
        return None

    def _is_foot(self, port: int, message: ChannelMessage) -> bool:
        return self._foot is not None and self._foot.matches(port, message)

    def settle(self, until: int, *, visit: int) -> int:
        """Lets act what time alone completes: the end of a bounce, a hold.

        Returns:
            The visit afterwards.
        """
        if self._foot is not None:
            visit = self._move(self._foot.settle(until), visit)
        for order in self._controls.settle(until):
            visit = self._obey(order)
        hold = self._gestures.hold(until, visit)
        return visit if hold is None else self._act(hold)

    def close(self, until: int) -> bool:
        """Whether a key that was named starts the intro now, as no minor third has followed."""
        return self._namer is not None and self._namer.close(until)

    def carry(self, visit: int) -> None:
        """What the press did that is down left the music as it was: it may still become a hold."""
        self._gestures.carry(visit)

    def unplugged(self, port: int) -> None:
        """A foot that was down on the port will never be told to come up."""
        self._controls.unplugged(port)
        if self._foot is not None and self._switch is not None and self._switch.port in (None, port):
            self._foot.reset()
            self._gestures.reset()

    def _move(self, edges: Sequence[Edge], visit: int) -> int:
        for edge in edges:
            if edge.move is not Move.DOWN:
                self._gestures.edge(edge)
                continue
            before, visit = visit, self._act(self._gestures.press(edge.ns, visit))
            double = self._gestures.double(edge.ns, before=before, visit=visit)
            if double is not None:
                visit = self._act(double)
        return visit
