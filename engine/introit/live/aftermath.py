"""What the survivor does for a player that died: releases what it owed, through fresh ports."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from introit.errors import PortError
from introit.live.cue import Cue, Rank
from introit.live.inbox import Inbox
from introit.live.ledger import Ledger
from introit.live.messages import STOP, all_notes_off, note_off
from introit.live.port import Port
from introit.live.ports.opener import open_ports
from introit.live.setup import PortSetup, Setup

REPEATS: Final = 5
REPEAT_SECONDS: Final = 0.05
"""Offs are repeated for 200 ms: a synth, or a server that is busy burying a client, may miss the first."""


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
        How many notes were released; those of a port that cannot be reached stay in the ledger.
    """
    released = 0
    with contextlib.ExitStack() as stack:
        work: list[tuple[Port, list[bytes]]] = []
        for index, port in enumerate(setup.ports):
            owed, messages = ledger.owed(index), _messages(ledger, index)
            opened = _reach(port, destinations.get(str(index), ()), stack=stack) if messages else []
            if opened:
                ledger.forget(index)
                released += sum(count for _, _, count in owed)
            work += [(fresh, messages) for fresh in opened]
            for fresh in opened:  # at once: opening the next takes time
                _send(fresh, messages)
        for _ in range(REPEATS - 1 if work else 0):
            sleep(REPEAT_SECONDS)
            for fresh, messages in work:
                _send(fresh, messages)
    return released


def _reach(port: PortSetup, names: Sequence[str], *, stack: contextlib.ExitStack) -> list[Port]:
    """Fresh ports, one for each destination that is still there."""
    opened: list[Port] = []
    for name in names:
        fresh = replace(port, to=name, source=None, virtual=False)
        inbox = Inbox()
        stack.callback(inbox.close)
        alone = Setup(ports=(fresh,), routes=(), tunes=0)
        with contextlib.suppress(PortError):
            ports, _ = open_ports(alone, inbox, client_name="introit-release")
            stack.callback(ports[0].close)
            opened += ports
    return opened


def _send(port: Port, messages: Sequence[bytes]) -> None:
    """Time 0 has long passed: they go out as soon as they can."""
    ranks = (Rank.REAL_TIME if data == STOP else Rank.OFF for data in messages)
    port.hand(
        [Cue(0, rank, place, data) for place, (rank, data) in enumerate(zip(ranks, messages, strict=True))]
    )


def _messages(ledger: Ledger, port: int) -> list[bytes]:
    """What ends all that a port is owed: Stop first, as in every release."""
    owed = ledger.owed(port)
    stop = [STOP] if ledger.leads(port) else []
    offs = [note_off(channel, pitch) for channel, pitch, count in owed for _ in range(count)]
    return stop + offs + [all_notes_off(channel) for channel in sorted({channel for channel, _, _ in owed})]
