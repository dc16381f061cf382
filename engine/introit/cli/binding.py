"""A verdict on a switch, as words for the player and as keys for the rig file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from introit.cli.listening import Device
from introit.cli.verdict import Verdict
from introit.library.rig_editing import Value
from introit.library.stage import Rig, RigPort
from introit.live.foot import can_be_held
from introit.live.ports.finder import matches
from introit.live.setup import FootSwitch

_USUAL = FootSwitch()


class Binding(NamedTuple):
    """What is to be written into the rig: keys of the foot-switch or of a control, and a port for the device.

    Attributes:
        foot_switch: keys of the foot-switch; empty to leave it alone.
        ports: one that hears the device, where none does.
        control: keys of a control; empty for none.
    """

    foot_switch: dict[str, Value]
    ports: dict[str, Mapping[str, Value]]
    control: Mapping[str, Value] = {}


def binding_for(
    verdict: Verdict,
    device: Device,
    rig: Rig,
    *,
    others: Sequence[Device] = (),
    system_of: Callable[[RigPort], str],
) -> Binding:
    """What a rig must say so that this switch is its foot-switch.

    Args:
        verdict: how the switch speaks.
        device: who it is heard from.
        rig: as it is.
        others: the other devices there are.
        system_of: which system a port of the rig is on.
    """
    port, new = port_for(device, rig, others=others, system_of=system_of)
    keys = _keys(verdict.switch, known=rig.foot_switch is not None)
    named = rig.foot_switch is not None and rig.foot_switch.port is not None
    if new or must_name_port(rig, named=named):
        keys = {"port": port, **keys}
    return Binding(keys, new)


def must_name_port(rig: Rig, *, named: bool) -> bool:
    """Whether a control must say its port: it did before, or more than one port of the rig listens."""
    return named or len([port for port in rig.ports if port.source is not None]) > 1


def port_for(
    device: Device, rig: Rig, *, others: Sequence[Device], system_of: Callable[[RigPort], str]
) -> tuple[str, dict[str, Mapping[str, Value]]]:
    """The rig's port that hears the device, the one that hears it by its name first; else a new one."""
    on_system = [port for port in rig.ports if port.source is not None and system_of(port) == device.system]
    there = [device.name, *(other.name for other in others if other.system == device.system)]
    for port in on_system:
        if port.source and matches(port.source, there) == [device.name]:
            return port.name, {}
    for port in on_system:
        if port.source == "":
            return port.name, {}
    taken = {port.name for port in rig.ports}
    name = next(name for name in _names() if name not in taken)
    return name, {name: {"system": device.system, "from": device.name}}


def _names() -> Sequence[str]:
    return ["feet", *(f"feet{number}" for number in range(2, 1000))]


def _keys(switch: FootSwitch, *, known: bool) -> dict[str, Value]:
    """Keys as the file writes them: channels and programs from 1. What is usual is written over what was."""
    keys: dict[str, Value] = {
        "message": switch.message,
        "number": number_of(switch),
        "channel": "any" if switch.channel is None else switch.channel + 1,
        "action": switch.action,
    }
    if known or switch.inverted:
        keys["inverted"] = switch.inverted
    if known or (switch.on_at, switch.off_at) != (_USUAL.on_at, _USUAL.off_at):
        keys |= {"on_at": switch.on_at, "off_at": switch.off_at}
    return keys


def number_of(switch: FootSwitch) -> Value:
    """The number as the file writes it: programs from 1, `any` for any."""
    if switch.number is None:
        return "any"
    return switch.number + 1 if switch.message == "program" else switch.number


def described(verdict: Verdict, device: Device, *, of_foot: bool = True) -> list[str]:
    """The verdict in a few lines; with what it means for a foot-switch, if it is to be one."""
    switch = verdict.switch
    what = {"control": "controller", "note": "note", "program": "program"}[switch.message]
    number = number_of(switch)
    number = {"any": "changes, a different one each time"}.get(str(number), str(number))
    channel = "" if switch.channel is None else f" on channel {switch.channel + 1}"
    lines = [f"it sends {what} {number}{channel}, from {device.name}"]
    lines.append(_ACTIONS[switch.action])
    if switch.inverted:
        lines.append("inverted: it rests high and sends its low value while pressed")
    if verdict.halfway:
        lines.append(
            f"it tells positions between: down from {switch.on_at}, up from {switch.off_at}"
            + (", counted from the other end" if switch.inverted else "")
        )
    if of_foot and not can_be_held(switch):
        lines.append("it cannot be held: a double press does what a hold does elsewhere")
    return lines


_ACTIONS = {
    "momentary": "momentary: it tells when it goes down and when it comes up, so it can be held",
    "latching": "latching: every press changes its value, and nothing is told when the foot comes up",
    "press-only": "press-only: it tells that it was pressed, not that it came up",
}
