"""What orders there are beside the foot, and which key and which control of the rig gives each."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence

from introit.library.keys import KeyUse, key_uses
from introit.library.musical import note_name
from introit.library.stage import RigKeys
from introit.live.setup import Control, Setup
from introit.live.states import Order
from introit.performance import PARTS

_WIDTH = 79
_ORDER, _CELL = 15, 32
"""Columns of an order's name, and of what gives it where there are keys and controls."""
_TIE = "\N{NO-BREAK SPACE}"
_CUE = PARTS.index("cue")
_MUTES = {1: "off", 0: "on"}
"""A mute's value, in words; any other changes over."""


class OrderLanguage:
    """The orders that make sense on a rig, in words.

    Args:
        setup: the rig's controls and parts.
        keys: the terminal's; None where there are none.
        tunes: how many tunes there now are; left out, as many as in the setup.
    """

    def __init__(self, setup: Setup, keys: RigKeys | None, tunes: Callable[[], int] | None = None) -> None:
        self._setup = setup
        self._there = {route.part for route in setup.routes}
        self._keys_there = [] if keys is None else key_uses(keys)
        self._tunes = tunes or (lambda: setup.tunes)

    @property
    def given(self) -> frozenset[Order]:
        """The orders that a key or a control can give."""
        by_key = {Order(use.does) for use in self._uses}
        return frozenset(by_key | {Order(control.order) for control in self._setup.controls})

    def lines(self) -> list[str]:
        """A table under 80 columns; empty where nothing can be ordered."""
        cells = {order: (self._keys(order), self._controls(order)) for order in Order if order in self.given}
        heads = ("keys", "controls")
        filled = [column for column in range(len(heads)) if any(texts[column] for texts in cells.values())]
        if not filled:
            return []
        rows = [("order", *(heads[column] for column in filled))]
        rows += [(order.value, *(texts[column] for column in filled)) for order, texts in cells.items()]
        return [line for row in rows for line in _laid_out(row)]

    def line(self) -> str:
        """The same in one line, however long; empty where nothing can be ordered."""
        texts = []
        for order in Order:
            ways = [text for text in (self._keys(order), self._controls(order)) if text]
            if ways:
                texts.append(f"{order} ({'; '.join(ways)})")
        return f"orders: {', '.join(texts)}" if texts else ""

    def controls(self) -> str:
        """The rig's controls with what each orders, in one line; empty where it has none."""
        texts = [f"{control.order}{_which(control)}: {_message(control)}" for control in self._setup.controls]
        return f"controls: {'; '.join(texts)}" if texts else ""

    # --- cells --------------------------------------------------------------------------------------

    @property
    def _uses(self) -> list[KeyUse]:
        return [use for use in self._keys_there if self._is_of_use(use)]

    def _is_of_use(self, use: KeyUse) -> bool:
        """Whether a key orders something that this rig and set have."""
        if use.does not in set(Order):
            return False  # the foot's, or the program's
        if use.does == Order.MUTE:
            return PARTS.index(use.which) in self._there
        if use.does == Order.TUNE:
            return 1 < self._tunes() >= int(use.which)
        if use.does == Order.FIRST_NOTE:
            return _CUE in self._there
        return use.does != Order.BACK or self._tunes() > 1

    def _keys(self, order: Order) -> str:
        uses = [use for use in self._uses if use.does == order]
        if order is Order.MUTE:
            return ", ".join(f"{'/'.join(use.keys)} {use.which}" for use in uses)
        names = [name for use in uses for name in use.keys]
        if order is Order.TUNE and len(names) > 2 and names == [use.which for use in uses]:
            return f"{names[0]} to {names[-1]}"
        return ", ".join(names)

    def _controls(self, order: Order) -> str:
        controls = [control for control in self._setup.controls if control.order == order]
        return ", ".join(f"{_message(control)}{_which(control)}" for control in controls)


def _laid_out(row: Sequence[str]) -> list[str]:
    """A row of the table; what does not fit into its column goes on below."""
    order, *cells = row
    widths = [_CELL] * (len(cells) - 1)
    widths.append(_WIDTH - _ORDER - sum(widths))
    wrapped = [_wrapped(cell, width - 2) for cell, width in zip(cells, widths, strict=True)]
    lines = []
    for number in range(max(map(len, wrapped))):
        texts = [(cell[number] if number < len(cell) else "") for cell in wrapped]
        padded = "".join(text.ljust(width) for text, width in zip(texts, widths, strict=True))
        lines.append(((order if number == 0 else "").ljust(_ORDER) + padded).rstrip())
    return lines


def _wrapped(cell: str, width: int) -> list[str]:
    """A cell's lines; what stands between commas stays together."""
    tied = ", ".join(piece.replace(" ", _TIE) for piece in cell.split(", "))
    lines = textwrap.wrap(tied, width, break_on_hyphens=False)
    return [line.replace(_TIE, " ") for line in lines] or [""]


def _which(control: Control) -> str:
    """The part or the tune that an order is about."""
    if control.order in (Order.MUTE, Order.LEVEL):
        how = f" {_MUTES[control.value]}" if control.order == Order.MUTE and control.value in _MUTES else ""
        return f" {PARTS[control.part]}{how}"
    return f" {control.value + 1}" if control.order == Order.TUNE and control.value >= 0 else ""


def _message(control: Control) -> str:
    """What is sent for an order, as manuals call it."""
    channel = "" if control.channel is None else f" on channel {control.channel + 1}"
    if control.number is None:
        return f"{control.message}{channel}"
    if control.message == "control":
        return f"CC {control.number}{channel}"
    if control.message == "note":
        return f"note {note_name(control.number)}{channel}"
    return f"{control.message} {control.number + 1}{channel}"
