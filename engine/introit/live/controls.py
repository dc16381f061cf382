"""Controls of the rig beside the foot-switch: a second switch, pads, an expression pedal, program changes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from introit.live.events import Ordered
from introit.live.foot import Edge, FootReader, Move
from introit.live.messages import DATA_MAX, SONG_SELECT, ChannelMessage, Kind, SystemMessage
from introit.live.setup import Control, FootSwitch
from introit.live.states import Order

_VALUED: Final = (Order.LEVEL,)
"""Orders that take a control's value as it moves, not its being pressed."""


class Controls:
    """Reads controls as orders. Pure: time comes with each call.

    One that gives an order when it is pressed is read like a foot-switch, so that it may bounce, rest
    half-way or be inverted; one that sets a level gives an order at each new value.

    Args:
        controls: of the rig.
    """

    def __init__(self, controls: Sequence[Control]) -> None:
        self._pressed = [
            (control, FootReader(_switch(control)))
            for control in controls
            if control.order not in _VALUED and control.message != "song select" and not _numbered(control)
        ]
        self._numbered = [control for control in controls if _numbered(control)]
        self._valued = [control for control in controls if control.order in _VALUED]
        self._values: dict[int, int] = {}

    @property
    def next_due(self) -> int | None:
        """When `settle` next has something."""
        dues = (reader.next_due for _, reader in self._pressed)
        return min((due for due in dues if due is not None), default=None)

    def hear(self, port: int, message: ChannelMessage | SystemMessage, ns: int) -> list[Ordered]:
        """The orders that a message gives."""
        if isinstance(message, SystemMessage):
            return self._song(port, message)
        orders = [
            Ordered(control.order, value=message.first)
            for control in self._numbered
            if control.message == "program" and message.kind is Kind.PROGRAM and _from(control, port, message)
        ]
        for number, control in enumerate(self._valued):
            if (
                message.kind is Kind.CONTROL
                and _from(control, port, message)
                and message.first == control.number
            ):
                orders += self._value(number, control, message.second)
        for control, reader in self._pressed:
            if reader.matches(port, message):
                orders += _given(control, reader.read(message, ns))
        return orders

    def settle(self, until: int) -> list[Ordered]:
        """The orders that the ends of bounces give by `until`."""
        return [order for control, reader in self._pressed for order in _given(control, reader.settle(until))]

    def unplugged(self, port: int) -> None:
        """What was down on the port will never be told to come up."""
        for control, reader in self._pressed:
            if control.port in (None, port):
                reader.reset()

    def _value(self, number: int, control: Control, value: int) -> list[Ordered]:
        value = _level(control, value)
        if self._values.get(number) == value:
            return []  # pedals repeat themselves
        self._values[number] = value
        return [Ordered(control.order, control.part, value)]

    def _song(self, port: int, message: SystemMessage) -> list[Ordered]:
        return [
            Ordered(control.order, value=message.data[1])
            for control in self._numbered
            if control.message == "song select"
            and message.status == SONG_SELECT
            and control.port in (None, port)
        ]


def _numbered(control: Control) -> bool:
    """Whether the message's own number says which tune."""
    return control.message == "song select" or (control.message == "program" and control.number is None)


def _from(control: Control, port: int, message: ChannelMessage) -> bool:
    return control.port in (None, port) and control.channel in (None, message.channel)


def _switch(control: Control) -> FootSwitch:
    return FootSwitch(
        port=control.port,
        message=control.message,
        number=control.number,
        channel=control.channel,
        action=control.action,
        inverted=control.inverted,
        on_at=control.on_at,
        off_at=control.off_at,
    )


def _level(control: Control, value: int) -> int:
    """0 to 127 between the ends that the control reaches."""
    travelled = min(max(value, control.low), control.high) - control.low
    level = round(DATA_MAX * travelled / (control.high - control.low))
    return DATA_MAX - level if control.inverted else level


def _given(control: Control, edges: Sequence[Edge]) -> list[Ordered]:
    order = Ordered(control.order, control.part, control.value)
    return [order for edge in edges if edge.move is Move.DOWN]
