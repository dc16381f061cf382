"""A port that is lined up: the contract, exact times on the fake clock, whole intros, MIDI clock."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from introit.live.cue import Cue, Rank
from introit.live.events import Gone, Lost
from introit.live.messages import CLOCK, control, note_off, note_on
from introit.live.ports.memory import MemoryPort
from introit.live.ports.offset import OffsetPort
from introit.live.release import OWN_SEQUENCE
from introit.live.setup import ClockLead
from introit.testing import FakeClock, PortBench, Receiver, check_port, rehearse, sketch_setup
from introit.testing.sketch import SketchFront
from introit.units import NS_PER_MS, NS_PER_SECOND

FOOT = (0xB0, 64, 127)
OFFSETS = [-500, -80, -20, 20, 80, 500]


class Bench:
    def __init__(self, offset_ms: int, *, lookahead: int) -> None:
        self.clock = FakeClock()
        self.clock.jump(10 * NS_PER_SECOND)
        self.receiver = Receiver()
        self.memory = MemoryPort("main", self.clock, lookahead=lookahead, listener=self.receiver)
        self.port = OffsetPort(self.memory, offset_ms * NS_PER_MS, now=self.clock.now)

    def wait(self, ns: int) -> None:
        """As the loop does, for a port that holds."""
        end = self.clock.now() + ns
        while (due := self.port.next_due()) is not None and due <= end:
            self.clock.jump(max(due, self.clock.now()))
            self.port.send_due()
        self.clock.jump(end)

    def received(self) -> list[bytes]:
        self.memory._settle(self.clock.now())
        return [sent.data for sent in self.receiver.messages]


@pytest.mark.parametrize("offset_ms", OFFSETS)
@pytest.mark.parametrize("lookahead", [0, 30 * NS_PER_MS])
def test_a_port_that_is_lined_up_keeps_the_contract(offset_ms: int, lookahead: int) -> None:
    def fresh() -> PortBench:
        made = Bench(offset_ms, lookahead=lookahead)
        return PortBench(
            port=made.port,
            now=made.clock.now,
            wait=made.wait,
            received=made.received,
            vanish=lambda: made.memory.vanish("unplugged"),
            tolerance=max(0, -offset_ms * NS_PER_MS),  # so much later, by intent; exact times: see below
        )

    check_port(fresh)


@pytest.mark.parametrize("offset_ms", OFFSETS)
@pytest.mark.parametrize("lookahead", [0, 30 * NS_PER_MS])
def test_everything_goes_out_earlier_by_the_offset_and_is_told_without_it(
    offset_ms: int, lookahead: int
) -> None:
    bench = Bench(offset_ms, lookahead=lookahead)
    offset = offset_ms * NS_PER_MS
    times = [bench.clock.now() + NS_PER_SECOND + step * 130 * NS_PER_MS for step in range(10)]
    for place, at in enumerate(times):
        bench.wait(at - bench.port.lookahead - bench.clock.now())
        bench.port.hand([Cue(at, Rank.ON, place, note_on(0, 60 + place, 80))])
    bench.wait(2 * NS_PER_SECOND)
    told = bench.port.sent()
    assert [(one.ideal, one.actual) for one in told] == [(at, at) for at in times]
    assert [one.actual for one in bench.receiver.messages] == [at - offset for at in times]


@pytest.mark.parametrize("lookahead", [0, 30 * NS_PER_MS])
def test_silence_does_not_wait_for_a_port_that_is_later(lookahead: int) -> None:
    bench = Bench(-400, lookahead=lookahead)
    now = bench.clock.now()
    ours = [Cue(now, Rank.ON, 0, note_on(0, 60, 80)), Cue(now + 1, Rank.OFF, 1, note_off(0, 60))]
    bench.port.hand(ours)
    assert bench.port.withdraw(-1) == ours
    off = Cue(now, Rank.OFF, OWN_SEQUENCE, note_off(0, 61))
    bench.port.hand([off, Cue(now + 5, Rank.CONTROL, OWN_SEQUENCE + 1, control(0, 123, 0))])
    bench.wait(10)
    told = bench.port.sent()
    assert [(one.ideal - now, one.actual - now) for one in told] == [(0, 0), (5, 5)]
    assert [one.actual - now for one in bench.receiver.messages] == [0, 5]


def test_what_was_lost_is_told_in_the_times_that_were_handed() -> None:
    bench = Bench(80, lookahead=30 * NS_PER_MS)
    start = bench.clock.now()
    bench.memory.lose(start, start + 1000)
    assert bench.port.heard() == [Lost(0, start + 80 * NS_PER_MS, start + 80 * NS_PER_MS + 1000)]
    bench.memory.vanish("gone")
    assert bench.port.heard() == [Gone(0, "gone")]


def test_an_off_that_is_held_goes_out_before_the_port_is_closed() -> None:
    bench = Bench(-400, lookahead=0)
    now = bench.clock.now()
    bench.port.hand(
        [Cue(now - NS_PER_SECOND, Rank.ON, 0, note_on(0, 60, 80)), Cue(now, Rank.OFF, 1, note_off(0, 60))]
    )
    bench.port.hand([Cue(now, Rank.ON, 2, note_on(0, 62, 80))])
    bench.port.close()
    assert bench.received() == [note_on(0, 60, 80), note_off(0, 60)]


@pytest.mark.parametrize("offset_ms", OFFSETS)
@pytest.mark.parametrize(
    "lookaheads", [(0, 0), (30 * NS_PER_MS, 0), (0, 30 * NS_PER_MS), (30 * NS_PER_MS, 50 * NS_PER_MS)]
)
def test_a_whole_intro_is_the_same_but_for_the_offset_of_one_port(
    offset_ms: int, lookaheads: tuple[int, int]
) -> None:
    offset = offset_ms * NS_PER_MS
    setup = sketch_setup(ports=2, lead=ClockLead(1))
    shifted = replace(setup, ports=(setup.ports[0], replace(setup.ports[1], offset_ns=offset)))
    # A count-off: what sounds at the press itself cannot be sent before it.
    plain, lined = (
        rehearse(
            one,
            SketchFront(count_off=1),
            [(NS_PER_SECOND, bytes(FOOT))],
            lookaheads=lookaheads,
            until=20 * NS_PER_SECOND,
        )
        for one in (setup, shifted)
    )
    assert [sent for sent in lined.receivers[0].messages if sent.data[0] & 0xE0 == 0x80] == [
        sent for sent in plain.receivers[0].messages if sent.data[0] & 0xE0 == 0x80
    ]
    ons = [(sent.actual - offset, sent.data) for sent in plain.receivers[1].ons()]
    assert len(ons) > 2
    assert [(sent.actual, sent.data) for sent in lined.receivers[1].ons()] == ons
    offs = {(sent.actual - offset, sent.data) for sent in plain.receivers[1].offs()}
    assert offs <= {(sent.actual, sent.data) for sent in lined.receivers[1].offs()}
    assert not lined.receivers[1].sounding
    clocks = [
        Counter(sent.actual + shift for sent in one.receivers[1].messages if sent.data == CLOCK)
        for one, shift in ((plain, 0), (lined, offset))
    ]
    assert clocks[0].total() > 100
    # Before, the clock began later, as it had to; afterwards it ends with the evening, wherever it is.
    there, then = NS_PER_SECOND + 600 * NS_PER_MS, 18 * NS_PER_SECOND
    while_it_ran = [{at: clock[at] for at in clock if there < at < then} for clock in clocks]
    assert while_it_ran[0] == while_it_ran[1]
