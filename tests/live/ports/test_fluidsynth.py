"""The port on a synth of our own making, which renders in steps on the fake clock as FluidSynth does.

`tests/e2e/test_fluidsynth.py` runs the same contract on the library itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from introit.live.cue import Cue, Rank
from introit.live.events import Back, Gone
from introit.live.inbox import Inbox
from introit.live.messages import ACTIVE_SENSING, note_off, note_on
from introit.live.ports import fluidsynth as module
from introit.live.ports import inside
from introit.live.ports.blocks import TICKS_PER_MS
from introit.live.ports.fluidsynth import RENEW_BLOCKS, STALL_NS, FluidSynthPort
from introit.testing import FakeClock, PortBench, check_port
from introit.units import NS_PER_MS, NS_PER_SECOND


class Double:
    """Renders so many blocks at each step of the clock; an event is played as its block begins.

    Attributes:
        received: what was played, in order.
        stopped: True to ask for no sound any more.
        mended: whether the audio driver could be opened again.
    """

    rate, block, driver, buffered = 48_000, 64, "double", 0

    def __init__(self, clock: FakeClock, *, step: int) -> None:
        self._clock = clock
        self._step = step
        self._length = step * self.block * NS_PER_SECOND // self.rate
        self._blocks = 0
        self._since = 0
        self._waiting: list[tuple[int, int, bytes]] = []
        self.received: list[bytes] = []
        self.stopped = False
        self.mended = False
        self.silenced = 0
        self.renewed = 0
        self.closed = 0

    def _render(self) -> None:
        steps = 0 if self.stopped else (self._clock.now() - self._since) // self._length
        self._since += steps * self._length
        for _ in range(steps * self._step):
            millisecond = self._blocks * self.block * 1000 // self.rate
            self._blocks += 1
            due = sorted(one for one in self._waiting if one[0] <= millisecond * TICKS_PER_MS)
            self._waiting = [one for one in self._waiting if one not in due]
            self.received += [data for _, _, data in due]

    def tick(self) -> int:
        self._render()
        begun = max(0, self._blocks - 1)
        return (begun * self.block * 1000 // self.rate * TICKS_PER_MS) % (1 << 32)

    def send(self, number: int, tick: int, data: bytes) -> bool:
        self._render()
        self._waiting.append((tick, number, data))
        return True

    def remove(self, number: int) -> None:
        self._render()
        self._waiting = [one for one in self._waiting if one[1] != number]

    def silence(self) -> None:
        self._waiting.clear()
        self.silenced += 1

    def renew(self) -> None:
        self._waiting.clear()
        self._blocks = 0
        self.renewed += 1

    def reopen_audio(self) -> bool:
        return self.mended

    def close(self) -> None:
        self.closed += 1


class Bench:
    def __init__(self, *, step: int = 2) -> None:
        self.clock = FakeClock()
        self.clock.jump(NS_PER_SECOND)
        self.synth = Double(self.clock, step=step)
        self.inbox = Inbox()
        self.port = FluidSynthPort(0, "main", self.synth, step=step, now=self.clock.now, inbox=self.inbox)

    def wait(self, ns: int) -> None:
        """As the loop does: it looks at its ports again and again."""
        end = self.clock.now() + ns
        while self.clock.now() < end:
            self.clock.jump(min(end, self.clock.now() + 7 * NS_PER_MS))
            if self.port._there:
                self.port._read()

    def received(self) -> list[bytes]:
        self.synth.tick()
        return self.synth.received


@pytest.fixture
def bench() -> Iterator[Bench]:
    made = Bench()
    yield made
    made.port.close()
    made.inbox.close()


@pytest.mark.parametrize("step", [1, 2, 16, 48])
def test_the_port_keeps_the_contract(step: int) -> None:
    inboxes = []

    def fresh() -> PortBench:
        made = Bench(step=step)
        inboxes.append(made.inbox)

        def vanish() -> None:
            made.synth.stopped = True
            for _ in range(20):  # the loop goes on meanwhile
                made.wait(STALL_NS // 10)
                made.port.sent()

        length = step * 64 * NS_PER_SECOND // 48_000
        return PortBench(
            port=made.port,
            now=made.clock.now,
            wait=made.wait,
            received=made.received,
            vanish=vanish,
            tolerance=length + 2 * NS_PER_MS,
        )

    check_port(fresh)
    for inbox in inboxes:
        inbox.close()


def test_events_fall_on_the_nearest_block(bench: Bench) -> None:
    bench.wait(NS_PER_SECOND)
    half = 64 * NS_PER_SECOND // 48_000 // 2
    for place in range(100):
        at = bench.clock.now() + bench.port.lookahead
        bench.port.hand([Cue(at, Rank.ON, place, note_on(0, 60, 80))])
        bench.wait(11 * NS_PER_MS)
    bench.wait(NS_PER_SECOND)
    sent = bench.port.sent()
    assert len(sent) == 100
    assert max(abs(one.actual - one.ideal) for one in sent) <= half + 1


def test_what_comes_at_the_last_moment_is_placed_as_exactly(bench: Bench) -> None:
    bench.wait(NS_PER_SECOND)
    for place in range(100):
        bench.port.hand([Cue(bench.clock.now(), Rank.ON, place, note_on(0, 60, 80))])
        bench.wait(10 * NS_PER_MS + 333_333)
    bench.wait(NS_PER_SECOND)
    block = 64 * NS_PER_SECOND // 48_000
    assert max(abs(one.actual - one.ideal) for one in bench.port.sent()) <= block


def test_closing_silences_and_frees_once(bench: Bench) -> None:
    bench.port.hand([Cue(bench.clock.now(), Rank.ON, 0, note_on(0, 60, 80))])
    bench.port.close()
    bench.port.close()
    assert (bench.synth.silenced, bench.synth.closed) == (1, 1)


def test_sound_that_has_stopped_is_told_and_told_back(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "RETRY_SECONDS", 0.001)
    bench.synth.stopped = True
    for _ in range(20):
        bench.wait(STALL_NS // 10)
        bench.port.sent()
    assert bench.port.heard() == [Gone(0, "the sound has stopped (double)")]
    bench.port.hand([Cue(bench.clock.now(), Rank.ON, 0, note_on(0, 60, 80))])
    assert bench.port.heard() == []
    bench.synth.mended = True
    bench.port._reviver.join(5)
    bench.synth.stopped = False
    bench.wait(100 * NS_PER_MS)
    assert bench.port.heard() == [Back(0)]
    at = bench.clock.now() + bench.port.lookahead
    bench.port.hand([Cue(at, Rank.ON, 1, note_on(0, 61, 80))])
    bench.wait(bench.port.lookahead + bench.port.latency)
    assert [one.data[1] for one in bench.port.sent()] == [61]
    assert [data[1] for data in bench.received()] == [61]


def test_after_half_a_day_the_sequencer_begins_anew_in_a_pause(bench: Bench) -> None:
    bench.port.sent()
    assert bench.synth.renewed == 0
    bench.synth._blocks = RENEW_BLOCKS + 10
    bench.port.sent()
    bench.wait(20 * NS_PER_MS)
    bench.port.hand([Cue(bench.clock.now() + bench.port.lookahead, Rank.ON, 0, note_on(0, 60, 80))])
    bench.port.sent()
    assert bench.synth.renewed == 1
    bench.wait(bench.port.lookahead + bench.port.latency)
    assert len(bench.port.sent()) == 1
    assert len(bench.received()) == 1


def test_a_tick_of_32_bits_lasts_longer_than_that() -> None:
    assert RENEW_BLOCKS * 64 // 48_000 * 1000 * TICKS_PER_MS < 1 << 31


def test_only_what_a_synth_understands_reaches_the_sequencer() -> None:
    called: list[str] = []

    class Library:
        def __getattr__(self, name: str) -> Any:
            return lambda *_: called.append(name)

    synth = inside.Synth.__new__(inside.Synth)
    synth._library, synth._event, synth._sequencer, synth._dest = Library(), 1, 2, 3
    assert synth.send(0, 0, ACTIVE_SENSING)
    assert called == []
    for data in (
        note_on(0, 60, 80),
        note_off(0, 60),
        bytes((0xB0, 7, 1)),
        bytes((0xC0, 1)),
        bytes((0xE0, 0, 64)),
    ):
        assert synth.send(0, 0, data)
    kinds = [name.removeprefix("fluid_event_") for name in called if not name.startswith("fluid_sequencer")]
    said = [kind for kind in kinds if not kind.startswith("set_")]
    assert said == ["noteon", "noteoff", "control_change", "program_change", "pitch_bend"]
    assert called.count("fluid_sequencer_send_at") == 5
