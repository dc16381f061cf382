"""What the survivor does for a player that died: releases what it owed, through fresh ports."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final, NamedTuple

from introit.live.cue import Cue, Rank
from introit.live.inbox import Inbox
from introit.live.ledger import Ledger
from introit.live.messages import STOP, all_notes_off, note_off
from introit.live.port import Port
from introit.live.ports.finder import IN_THE_PLAYER
from introit.live.ports.opener import open_ports
from introit.live.setup import PortSetup, Setup

REPEATS: Final = 5
REPEAT_SECONDS: Final = 0.05
"""Offs are repeated for 200 ms: a synth, or a server that is busy burying a client, may miss the first."""


class _Debt(NamedTuple):
    """What is owed at one destination.

    Attributes:
        row: index of the dead player's port.
        port: how to reach the destination.
        messages: what is to be sent there.
    """

    row: int
    port: PortSetup
    messages: list[bytes]


def release(
    setup: Setup,
    ledger: Ledger,
    destinations: Mapping[str, Sequence[str]],
    *,
    sleep: Callable[[float], None] = time.sleep,
) -> int:
    """Sends Stop and an off for all that is owed, repeated, then All Notes Off, where the dead was connected.

    Args:
        setup: the dead player's.
        ledger: what it left; what a port is owed is cleared once it is sent.
        destinations: full names that each port was connected to, by index as text.
        sleep: waits between repeats.

    Returns:
        How many notes were released; those of a port that cannot be reached, or raises, stay in the ledger.
    """
    debts = _debts(setup, ledger, destinations)
    notes = {debt.row: sum(count for _, _, count in ledger.owed(debt.row)) for debt in debts}
    work: list[tuple[_Debt, Port]] = []
    with contextlib.ExitStack() as stack:
        for debt, port in _reached(debts, stack=stack):
            if _sent(port, debt.messages):  # at once: reaching the next may take time
                work.append((debt, port))
                ledger.forget(debt.row)
        for _ in range(REPEATS - 1 if work else 0):
            sleep(REPEAT_SECONDS)
            for debt, port in work:
                _sent(port, debt.messages)
    return sum(notes[row] for row in {debt.row for debt, _ in work})


def _debts(setup: Setup, ledger: Ledger, destinations: Mapping[str, Sequence[str]]) -> list[_Debt]:
    debts: list[_Debt] = []
    for index, port in enumerate(setup.ports):
        messages = _messages(ledger, index)
        reachable = messages and port.system not in IN_THE_PLAYER  # what was in the player ended with it
        for name in destinations.get(str(index), ()) if reachable else ():
            own = f"{port.name} {len(debts) + 1}"  # all of them may be one client's
            fresh = replace(port, name=own, to=name, source=None, virtual=False, offset_ns=0)
            debts.append(_Debt(index, fresh, messages))
    return debts


def _reached(debts: Sequence[_Debt], *, stack: contextlib.ExitStack) -> Iterator[tuple[_Debt, Port]]:
    """A fresh port for each that is still there: all at once, which is quickest, else one by one."""
    for group in [debts, *([debt] for debt in debts if len(debts) > 1)] if debts else []:
        try:
            ports = _opened(group, stack=stack)
        except Exception:  # each binding has its own family, and none may keep the others from their offs
            continue
        yield from zip(group, ports, strict=True)
        if len(group) == len(debts):
            return


def _opened(debts: Sequence[_Debt], *, stack: contextlib.ExitStack) -> list[Port]:
    inbox = Inbox()
    stack.callback(inbox.close)
    setup = Setup(ports=tuple(debt.port for debt in debts), routes=(), tunes=0)
    ports, _ = open_ports(setup, inbox, client_name="introit-release")
    for port in ports:
        stack.callback(_close, port)
    return ports


def _close(port: Port) -> None:
    with contextlib.suppress(Exception):  # as above
        port.close()


def _sent(port: Port, messages: Sequence[bytes]) -> bool:
    """Sends them: time 0 has long passed, so as soon as can be. Whether the port took them."""
    ranks = (Rank.REAL_TIME if data == STOP else Rank.OFF for data in messages)
    cues = [Cue(0, rank, place, data) for place, (rank, data) in enumerate(zip(ranks, messages, strict=True))]
    try:
        port.hand(cues)
    except Exception:  # as above
        return False
    return True


def _messages(ledger: Ledger, port: int) -> list[bytes]:
    """What ends all that a port is owed: Stop first, as in every release."""
    owed = ledger.owed(port)
    stop = [STOP] if ledger.leads(port) else []
    offs = [note_off(channel, pitch) for channel, pitch, count in owed for _ in range(count)]
    return stop + offs + [all_notes_off(channel) for channel in sorted({channel for channel, _, _ in owed})]
