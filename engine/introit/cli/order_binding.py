"""An order that is to be learned: which, by what, and as keys for the rig file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from introit.cli.binding import Binding, must_name_port, number_of, port_for
from introit.cli.listening import Device
from introit.cli.travel import Travel
from introit.cli.verdict import Verdict
from introit.errors import IntroitError, UsageError, did_you_mean
from introit.library.rig_editing import Value
from introit.library.rig_orders import ORDERS, WITH_A_PART
from introit.library.stage import Rig, RigControl, RigPort
from introit.live.messages import DATA_MAX
from introit.live.setup import FootSwitch

_USUAL = FootSwitch()


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be ordered.

    Attributes:
        order: a word in `library.rig_orders.ORDERS`.
        part: of a level or a mute; else None.
        tune: from 1, where a switch is to stand for one tune; else None.
    """

    order: str
    part: str | None = None
    tune: int | None = None

    @classmethod
    def in_words(cls, order: str, part: str | None, tune: int | None, rig: Rig) -> Asked:
        """From a command's options; words of an order may be tied by hyphens.

        Raises:
            UsageError: when there is no such order, or part and tune do not go with it or with the rig.
        """
        word = " ".join(order.lower().replace("-", " ").split())
        if word not in ORDERS:
            hint = did_you_mean(word, ORDERS)
            raise UsageError(f"no order {order!r}; orders are {', '.join(ORDERS)}. {hint}".rstrip())
        there = [one.part for one in rig.parts]
        if word in WITH_A_PART and part not in there:
            given = "needs --part" if part is None else f"has no part {part!r}"
            hint = did_you_mean(part or "", there)
            who = repr(word) if part is None else f"the rig {rig.id!r}"
            raise UsageError(f"{who} {given}; parts are {', '.join(there)}. {hint}".rstrip())
        if part is not None and word not in WITH_A_PART:
            raise UsageError(f"{word!r} is for no part of its own; leave --part out")
        if tune is not None and word != "tune":
            raise UsageError(f"{word!r} is for no tune of its own; leave --tune out")
        return cls(word, part, tune)

    @property
    def moves(self) -> bool:
        """Whether it follows a pedal that moves, not a switch."""
        return self.order == "level"

    def __str__(self) -> str:
        return " ".join(str(word) for word in (self.order, self.part, self.tune) if word is not None)


def order_binding_for(
    asked: Asked,
    found: Verdict | Travel,
    device: Device,
    rig: Rig,
    *,
    others: Sequence[Device] = (),
    system_of: Callable[[RigPort], str],
) -> Binding:
    """What a rig must say so that this switch or pedal gives the order.

    Args:
        asked: the order.
        found: how the switch or the pedal speaks.
        device: who it is heard from.
        rig: as it is.
        others: the other devices there are.
        system_of: which system a port of the rig is on.

    Raises:
        IntroitError: when what it sends cannot say what is ordered.
    """
    port, new = port_for(device, rig, others=others, system_of=system_of)
    keys: dict[str, Value] = {"do": asked.order}
    if asked.part is not None:
        keys["part"] = asked.part
    if asked.tune is not None:
        keys["tune"] = asked.tune
    known = next((one for one in rig.controls if Asked(one.do, one.part, one.tune) == asked), None)
    named = known is not None and known.port is not None
    if new or must_name_port(rig, named=named):
        keys["port"] = port
    said = _moving(found) if isinstance(found, Travel) else _pressed(asked, found.switch)
    return Binding({}, new, keys | said | _written_over(known, said))


def _written_over(known: RigControl | None, said: Mapping[str, Value]) -> dict[str, Value]:
    """What is usual, for keys that differ in the control that was there and have not been learned."""
    if known is None:
        return {}
    usual = RigControl(known.do)
    return {
        key: getattr(usual, key)
        for key in ("action", "inverted", "on_at", "off_at", "low", "high")
        if key not in said and getattr(known, key) != getattr(usual, key)
    }


def _moving(found: Travel) -> dict[str, Value]:
    keys: dict[str, Value] = {"message": "control", "number": found.number, "channel": found.channel + 1}
    if found.inverted:
        keys["inverted"] = True
    if found.low > 0:
        keys["low"] = found.low
    if found.high < DATA_MAX:
        keys["high"] = found.high
    return keys


def _pressed(asked: Asked, switch: FootSwitch) -> dict[str, Value]:
    keys: dict[str, Value] = {"message": switch.message}
    says_which = asked.order == "tune" and asked.tune is None
    if says_which and switch.message != "program":
        raise IntroitError(f"a {switch.message} cannot say which tune; name one: --tune 3")
    if not says_which:
        if switch.number is None:
            raise IntroitError("it sends another program each time; an order needs one of its own")
        keys["number"] = number_of(switch)
    if switch.channel is not None:
        keys["channel"] = switch.channel + 1
    if switch.message == "program":
        return keys
    if switch.action != "momentary":
        keys["action"] = switch.action
    if switch.inverted:
        keys["inverted"] = True
    if (switch.on_at, switch.off_at) != (_USUAL.on_at, _USUAL.off_at):
        keys |= {"on_at": switch.on_at, "off_at": switch.off_at}
    return keys


def described_travel(found: Travel, device: Device) -> list[str]:
    """A moving controller in a few lines."""
    lines = [f"it sends controller {found.number} on channel {found.channel + 1}, from {device.name}"]
    if (found.low, found.high) != (0, DATA_MAX):
        lines.append(f"it moves between {found.low} and {found.high}; that is taken for all of its way")
    if found.inverted:
        lines.append("inverted: it sends its low value where the part is loudest")
    return lines
