"""Listens to every device there is, each through a port of its own, so that it is known who said what."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from introit.errors import PortError
from introit.live.clock import Clock
from introit.live.events import Heard
from introit.live.inbox import Inbox
from introit.live.port import Port
from introit.live.ports.finder import Listing, is_ours
from introit.live.ports.opener import open_ports
from introit.live.setup import PortSetup, Setup
from introit.units import NS_PER_MS, NS_PER_SECOND

_STEP_NS = 50 * NS_PER_MS
SETTLE_SECONDS = 0.2
"""What a system still had for us when the ears were opened has come by then."""

Over = Callable[[Sequence[Heard], int], bool]
"""What was heard since listening began, and the present -> whether that is enough."""


@dataclass(frozen=True, slots=True)
class Device:
    """Something that can be listened to.

    Attributes:
        system: `jack` or `rtmidi`.
        name: as the system calls it.
    """

    system: str
    name: str


def devices(listings: Iterable[Listing], systems: Iterable[str]) -> list[Device]:
    """Every device of these systems that is not this program's own, once."""
    wanted = set(systems)
    found = [
        Device(listing.system, name)
        for listing in listings
        if listing.system in wanted
        for name in listing.sources
        if not is_ours(name)
    ]
    return list(dict.fromkeys(found))


class Ears:
    """Open ears.

    Args:
        clock: of the ports.
        inbox: what they wake.
        ports: one a device.
    """

    def __init__(self, clock: Clock, inbox: Inbox, ports: Sequence[Port]) -> None:
        self._clock = clock
        self._inbox = inbox
        self._ports = ports

    def listen(self, over: Over, *, at_most: float) -> list[Heard]:
        """What is heard from now until `over` says so, or so many seconds have passed; in order of time."""
        self._take()  # what came before belongs to nobody
        heard: list[Heard] = []
        limit = self._clock.now() + round(at_most * NS_PER_SECOND)
        while (now := self._clock.now()) < limit and not over(heard, now):
            self._clock.wait(min(limit, now + _STEP_NS), self._inbox, exact=False)
            heard += self._take()
        return sorted(heard, key=lambda event: event.ns)

    def _take(self) -> list[Heard]:
        self._inbox.drain()
        return [event for port in self._ports for event in port.heard() if isinstance(event, Heard)]


@contextlib.contextmanager
def open_ears(found: Sequence[Device]) -> Iterator[Ears]:
    """Ears that hear these devices; `Heard.port` is the index among them.

    Raises:
        PortError: if there is none, or one cannot be opened.
    """
    if not found:
        raise PortError("there is nothing to listen to; connect the foot-switch ('introit ports' lists).")
    inbox = Inbox()
    setup = Setup(
        ports=tuple(
            PortSetup(f"ear {number}", device.system, source=device.name)
            for number, device in enumerate(found, 1)
        ),
        routes=(),
        tunes=1,
    )
    with contextlib.closing(inbox), contextlib.ExitStack() as undo:
        ports, clock = open_ports(setup, inbox, client_name="introit-bind")
        for port in ports:
            undo.callback(port.close)
        yield Ears(clock, inbox, ports)
