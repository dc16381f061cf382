"""A rig's clock: the one that others play by, or the one that is followed."""

from __future__ import annotations

from introit.library.fields import Fields, Reader, choice
from introit.library.nodes import Node
from introit.library.reading import Reading, shown
from introit.library.rig_fields import Names, port_among
from introit.library.stage import Rig, RigClock

CLOCK_STARTS = ("intro", "head")


def clock_on(ports: Names) -> Reader[RigClock]:
    """A reader of the clock, on ports of these names."""

    def read(node: Node, reading: Reading) -> RigClock | None:
        fields = Fields(node, reading, what="a clock")
        clock = RigClock(
            port=fields.optional("port", port_among(ports), None),
            start=fields.optional("start", choice(CLOCK_STARTS), "intro"),
            follow=fields.optional("follow", port_among(ports), None),
        )
        fields.finish()
        if fields.is_mapping and reading.clean and (clock.port is None) == (clock.follow is None):
            message = "a clock needs `port:` to lead others, or `follow:` to follow one, and not both"
            reading.report(fields.place, "missing-key", message)
        return clock

    return read


def check_clock(fields: Fields, rig: Rig, reading: Reading) -> None:
    """A clock that leads goes out, one that is followed comes in."""
    if rig.clock is None:
        return
    ports = {port.name: port for port in rig.ports}
    leads, follows = ports.get(rig.clock.port or ""), ports.get(rig.clock.follow or "")
    message = ""
    if leads is not None and leads.to is None:
        message = f"the clock's port {shown(leads.name)} only listens; give it `to:` (a name, or any)"
    elif follows is not None and follows.source is None:
        message = f"the clock's port {shown(follows.name)} only sends; give it `from:` (a name, or any)"
    if message:
        reading.report(fields.place_of("clock"), "does-not-fit", message)
