"""What a rig that names no synth plays into: the first that is connected, else the synth inside."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from typing import Final, NamedTuple

from introit.cli.wiring import Systems
from introit.errors import PortError
from introit.library.stage import INSIDE, Rig, RigClock, RigPort

INSIDE_SAYS: Final = (
    "no synth is connected: the one inside plays, softly; bring the level up while it does. To play yours,"
    " start it first, or name it with `to:` in a rig"
)


class HeardRig(NamedTuple):
    """A rig as it can be heard here.

    Attributes:
        rig: with ports that are opened to what there is.
        remark: for the user; empty where all is as the rig says.
    """

    rig: Rig
    remark: str = ""


def heard_rig(
    rig: Rig, systems: Systems, why_silent: Callable[[], str], *, or_unheard: bool = False
) -> HeardRig:
    """The rig, with a synth for each port that sends and names none (`system: auto`, `to: any`).

    Args:
        rig: as its file says.
        systems: what answers on this machine.
        why_silent: why the synth inside would not be heard; empty where it would.
        or_unheard: True to play into memory where there is none at all.

    Raises:
        PortError: when no system answers into which a synth could yet come, and none inside can play: in one
            line that says what to install.
    """
    open_ports = [port for port in rig.ports if port.system == "auto" and port.to == "" and not port.virtual]
    if not open_ports or any(lamp.port == port.name for lamp in rig.lamps for port in open_ports):
        return HeardRig(rig)
    if (system := systems.with_a_synth()) is not None:
        return HeardRig(_on_system(rig, open_ports, system))
    why = why_silent()
    if not why:
        return HeardRig(_inside(rig, open_ports, listens=systems.answering() is not None), INSIDE_SAYS)
    if or_unheard:
        unheard = f"nothing will be heard: no synth is connected, and none inside can play: {why}"
        return HeardRig(_on_system(rig, open_ports, "memory"), unheard)
    if systems.answering() is not None:
        return HeardRig(rig, f"no synth is connected yet, and none inside can play: {why}")
    raise PortError(f"no synth is connected ({systems.why_not()}), and none inside can play: {why}.")


def _on_system(rig: Rig, open_ports: list[RigPort], system: str) -> Rig:
    ports = tuple(replace(port, system=system) if port in open_ports else port for port in rig.ports)
    return replace(rig, ports=ports)


def _inside(rig: Rig, open_ports: list[RigPort], *, listens: bool) -> Rig:
    """Each of these ports as a synth inside; what it listened to is heard on a port beside it."""
    ports: list[RigPort] = []
    beside: dict[str, str] = {}
    for port in rig.ports:
        if port not in open_ports:
            ports.append(port)
            continue
        ports.append(RigPort(port.name, INSIDE, "", None, virtual=False))
        if port.source is not None and listens:
            beside[port.name] = _unused(f"{port.name} in", rig)
            ports.append(RigPort(beside[port.name], "auto", None, port.source, virtual=False))
    deaf = {port.name for port in open_ports} - set(beside)

    def heard_on(name: str | None) -> str | None:
        return None if name is None or name in deaf else beside.get(name, name)

    return replace(
        rig,
        ports=tuple(ports),
        foot_switch=rig.foot_switch and replace(rig.foot_switch, port=heard_on(rig.foot_switch.port)),
        key_zone=rig.key_zone and replace(rig.key_zone, port=heard_on(rig.key_zone.port)),
        controls=tuple(replace(control, port=heard_on(control.port)) for control in rig.controls),
        clock=_clock(rig.clock, beside, deaf),
    )


def _clock(clock: RigClock | None, beside: Mapping[str, str], deaf: Collection[str]) -> RigClock | None:
    """The clock that is followed comes in beside the synth; nobody is led by one."""
    if clock is None or clock.follow is None:
        return None if clock is None or clock.port in {*beside, *deaf} else clock
    return None if clock.follow in deaf else replace(clock, follow=beside.get(clock.follow, clock.follow))


def _unused(name: str, rig: Rig) -> str:
    taken = {port.name for port in rig.ports}
    while name in taken:
        name += " 2"
    return name
