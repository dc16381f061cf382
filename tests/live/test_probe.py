"""The probe through the real loop, on the fake clock and ports in memory."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import pytest

from introit.live.events import Event, Gone, Heard, Played, Quit, Sent, Shown, Wanted
from introit.live.inbox import Inbox
from introit.live.ledger import Ledger
from introit.live.loop import run
from introit.live.messages import note_on
from introit.live.mix import Mix
from introit.live.ports.memory import MemoryPort
from introit.live.probe import BETWEEN_NS, SETTLE_NS, Probe
from introit.live.setup import PortSetup, Setup
from introit.testing import FakeClock
from introit.units import NS_PER_MS, NS_PER_SECOND

SECONDS = 5


class Measuring:
    """A probe, the real loop, and what it told."""

    def __init__(self, *lookaheads: int, listens: bool = False) -> None:
        self.clock, self.inbox = FakeClock(), Inbox()
        ports = [
            PortSetup(f"port {index}", "memory", to="", source="" if listens else None)
            for index in range(len(lookaheads))
        ]
        self.setup = Setup(
            ports=tuple(ports),
            routes=(),
            tunes=1,
            foot_switch=None,
            active_sensing=False,
            log=True,
            measure_ns=SECONDS * NS_PER_SECOND,
        )
        self.ports = [
            MemoryPort(port.name, self.clock, index=index, lookahead=ahead)
            for index, (port, ahead) in enumerate(zip(ports, lookaheads, strict=True))
        ]
        self.probe = Probe(self.setup, lookaheads)
        self.told: list[object] = []
        self.sent: list[Sent] = []

    def send(self, message: Wanted | Shown | Sent | Heard | Mix) -> None:
        (self.sent if isinstance(message, Sent) else self.told).append(message)  # type: ignore[attr-defined]

    def receive(self) -> Sequence[Event | Played]:
        return []

    def run(self) -> str:
        ledger = Ledger.create(bytearray(Ledger.size(len(self.ports))), len(self.ports))
        try:
            return run(self.probe, self.clock, inbox=self.inbox, ports=self.ports, ledger=ledger, link=self)
        finally:
            self.inbox.close()

    def shown(self, what: str) -> list[Shown]:
        return [one for one in self.told if isinstance(one, Shown) and one.what == what]


def pauses(times: Sequence[int]) -> list[int]:
    return [later - earlier for earlier, later in pairwise(times)]


@pytest.mark.parametrize("lookahead", [0, 33 * NS_PER_MS])
def test_it_sends_active_sensing_alone_at_its_own_times_and_ends_by_itself(lookahead: int) -> None:
    one = Measuring(lookahead)
    assert one.run() == "measured"
    # MIDI 1.0: status FE is Active Sensing, one byte; a receiver makes no sound of it.
    assert {sent.data for sent in one.sent} == {b"\xfe"}
    times = [sent.ideal for sent in one.sent]
    assert 450 <= len(times) <= 550
    assert min(pauses(times)) >= BETWEEN_NS[0]
    assert max(pauses(times)) <= BETWEEN_NS[1]
    assert times[0] >= SETTLE_NS
    assert times[-1] <= SETTLE_NS + one.setup.measure_ns + lookahead
    assert all(sent.actual == sent.ideal for sent in one.sent), "the fake clock is never late"
    assert {shown.text for shown in one.shown("woke")} == {"0"}
    assert len(one.shown("woke")) == len(times)


def test_a_machine_that_wakes_late_is_told_so_and_a_port_that_places_ahead_makes_it_good() -> None:
    def late(deadline: int) -> int:
        return 2 * NS_PER_MS if deadline % 2 else 0

    at_once, ahead = Measuring(0), Measuring(33 * NS_PER_MS)
    for one in (at_once, ahead):
        one.clock.lateness = late
        one.run()
    told = [[int(shown.text) for shown in one.shown("woke")] for one in (at_once, ahead)]
    # An exact deadline is waited for in two steps, the first half a millisecond before.
    assert all(NS_PER_MS < max(woke) <= 2 * NS_PER_MS for woke in told)
    assert [sent.actual - sent.ideal for sent in at_once.sent] == told[0]
    assert {sent.actual - sent.ideal for sent in ahead.sent} == {0}


def test_several_ports_share_the_rate_and_each_has_its_own_times() -> None:
    two = Measuring(0, 33 * NS_PER_MS)
    two.run()
    by_port = [[sent.ideal for sent in two.sent if sent.port == port] for port in (0, 1)]
    assert all(200 <= len(times) <= 300 for times in by_port)
    assert not set(by_port[0]) & set(by_port[1])


def test_a_skipped_cycle_is_told() -> None:
    one = Measuring(33 * NS_PER_MS)
    one.clock.at(NS_PER_SECOND, lambda: one.ports[0].lose(NS_PER_SECOND, NS_PER_SECOND + NS_PER_MS))
    assert one.run() == "measured"
    assert len(one.shown("lost")) == 1


@pytest.mark.parametrize(
    ("event", "reason"), [(Quit("Ctrl-C"), "Ctrl-C"), (Gone(0, "the cable"), "port 0: the cable")]
)
def test_it_leaves_when_it_is_told_to_and_when_its_port_has_gone(event: Event, reason: str) -> None:
    one = Measuring(0)
    one.clock.at(NS_PER_SECOND, lambda: one.inbox.put(event))
    assert one.run() == reason
    assert one.clock.now() < 2 * NS_PER_SECOND


def test_what_is_played_meanwhile_is_nothing_to_it() -> None:
    one = Measuring(0, listens=True)
    plan: Callable[[int], None] = lambda ms: one.clock.at(  # noqa: E731
        ms * NS_PER_MS, lambda: one.inbox.put(Heard(0, ms * NS_PER_MS, note_on(0, 60, 90)))
    )
    for ms in range(400, 900, 50):
        plan(ms)
    assert one.run() == "measured"
    assert {sent.data for sent in one.sent} == {b"\xfe"}
