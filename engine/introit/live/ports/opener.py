"""Opens what a setup asks for, and asks every system what there is. Loads a port library when needed."""

from __future__ import annotations

import contextlib
from collections.abc import Callable

from introit.chatter import hushed
from introit.errors import PortError
from introit.live.clock import Clock, SystemClock
from introit.live.inbox import Inbox
from introit.live.port import Port
from introit.live.ports.finder import Listing
from introit.live.ports.immediate import Driver, ImmediatePort
from introit.live.ports.names import labels, of_driver
from introit.live.ports.offset import OffsetPort
from introit.live.ports.patchbay import Connections
from introit.live.setup import Setup
from introit.performance import PARTS

__all__ = ["ASKED", "Connections", "look", "open_ports", "rtmidi_driver", "survey"]

ASKED = ("jack", "rtmidi", "alsa", "fluidsynth")
"""The systems that can be asked what there is; `auto` takes the first of `finder.AUTOMATIC` that answers."""


def open_ports(
    setup: Setup,
    inbox: Inbox,
    *,
    client_name: str = "introit",
    on_connections: Callable[[Connections], None] | None = None,
) -> tuple[list[Port], Clock]:
    """Opens every port of a setup, in its order, and the clock that they share.

    Args:
        setup: what to open; systems are chosen already.
        inbox: what the ports wake.
        client_name: how the program is called among the system's ports.
        on_connections: told what the ports are connected to, now and, from another thread, on every change.

    Raises:
        PortError: if one cannot be opened; then none is left open.
    """
    told: Connections = {}

    def tell(new: Connections) -> None:
        told.update(new)
        if on_connections is not None:
            on_connections(dict(told))

    with contextlib.ExitStack() as undo:
        clock, found = _open_jack(setup, inbox, client_name=client_name, tell=tell, undo=undo)
        for index, port in enumerate(setup.ports):
            if port.system != "jack":
                found[index] = _open_other(index, setup, clock, inbox=inbox, tell=tell, undo=undo)
            if port.offset_ns:
                found[index] = OffsetPort(found[index], port.offset_ns, now=clock.now)
        undo.pop_all()
    return [found[index] for index in range(len(setup.ports))], clock


def _open_jack(
    setup: Setup,
    inbox: Inbox,
    *,
    client_name: str,
    tell: Callable[[Connections], None],
    undo: contextlib.ExitStack,
) -> tuple[Clock, dict[int, Port]]:
    """All JACK ports on one client with its clock; without any, the system's clock."""
    wanted = [index for index, port in enumerate(setup.ports) if port.system == "jack"]
    if not wanted:
        return SystemClock(), {}
    from introit.live.ports.jack import JackClient

    client = JackClient(client_name, inbox, on_change=tell)
    undo.callback(client.close)
    ports: dict[int, Port] = {index: client.add(index, setup.ports[index]) for index in wanted}
    client.start()
    tell(client.patchbay.connections())
    return client.clock, ports


def _open_other(
    index: int,
    setup: Setup,
    clock: Clock,
    *,
    inbox: Inbox,
    tell: Callable[[Connections], None],
    undo: contextlib.ExitStack,
) -> Port:
    """One port of another system than JACK; closed by `undo`."""
    port = setup.ports[index]
    if port.system == "memory":
        from introit.live.ports.memory import MemoryPort

        return MemoryPort(port.name, clock, index=index)
    if port.system == "rtmidi":
        immediate = ImmediatePort(index, port, rtmidi_driver(), inbox=inbox, now=clock.now, on_change=tell)
        undo.callback(immediate.close)
        tell({index: immediate.connections})
        return immediate
    if port.system == "alsa":
        from introit.live.ports.alsa import open_port as open_alsa

        queued = open_alsa(index, port, now=clock.now, inbox=inbox, on_change=tell)
        undo.callback(queued.close)
        tell({index: queued.connections})
        return queued
    if port.system == "fluidsynth":
        from introit.fluid.reverb import dry_channels
        from introit.live.ports.fluidsynth import open_port as open_fluidsynth

        here = ((PARTS[route.part], route.channel) for route in setup.routes if route.port == index)
        inside = open_fluidsynth(index, port, now=clock.now, inbox=inbox, dry=dry_channels(here))
        undo.callback(inside.close)
        tell({index: ([inside.detail], [])})
        return inside
    raise PortError(f"port {port.name!r} asks for the unknown system {port.system!r}.")


def rtmidi_driver(interface: str = "") -> Driver:
    """The first binding to RtMidi that is installed.

    Raises:
        PortError: if none is.
    """
    from introit.live.ports import rtmidi, supriya

    try:
        return rtmidi.driver(interface)
    except PortError as first:
        with contextlib.suppress(PortError):
            return supriya.driver(interface)
        raise PortError(f"no binding to RtMidi can be used: {first}") from first


def survey() -> tuple[Listing, ...]:
    """Every system's ports, JACK's first, or why it could not be asked."""
    return tuple(look(system) for system in ASKED)


def look(system: str) -> Listing:
    """One system's ports, or why it could not be asked; `system` is one of `ASKED`."""
    with hushed():
        if system == "rtmidi":
            return _list_rtmidi()
        if system == "alsa":
            from introit.live.ports.alsa import list_ports

            return list_ports()
        if system == "fluidsynth":
            from introit.live.ports.fluidsynth import listing

            return listing()
        from introit.live.ports import jack

        return jack.list_ports()


def _list_rtmidi() -> Listing:
    try:
        driver = rtmidi_driver()
        out = driver.make_out("introit-look")
        into = driver.make_in("introit-look", lambda _: None)
    except PortError as error:
        return Listing("rtmidi", reason=str(error).rstrip("."))
    except Exception as error:  # each binding has its own family
        return Listing("rtmidi", reason=" ".join(str(error).split()).rstrip("."))
    listing = Listing(
        "rtmidi",
        destinations=tuple(labels(of_driver(out, driver.detail))),
        sources=tuple(labels(of_driver(into, driver.detail))),
        detail=f"{driver.detail}, through {driver.name}",
    )
    out.delete()
    into.delete()
    return listing
