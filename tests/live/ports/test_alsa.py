"""The port on a double of the ALSA sequencer, which keeps the promises that the kernel's is documented to.

Nobody has played on the real one: there was no machine. What alsa-midi itself makes of our events (time, tag,
bytes) is the package's own here; what the kernel makes of them is the double's.
"""

from __future__ import annotations

import socket
import sys
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import pytest

from introit.errors import PortError
from introit.live.cue import Cue, Rank
from introit.live.events import Gone, Heard, Plugged, Unplugged
from introit.live.inbox import Inbox
from introit.live.messages import ACTIVE_SENSING, CLOCK, STOP, control, note_off, note_on
from introit.live.ports import alsa as module
from introit.live.ports.alsa import AlsaClient, list_ports, open_port
from introit.live.ports.alsa_port import AlsaPort
from introit.live.setup import PortSetup
from introit.testing import FakeClock, PortBench, check_port
from introit.units import NS_PER_MS, NS_PER_SECOND

if sys.platform != "linux":
    pytest.skip("ALSA is Linux's", allow_module_level=True)

import alsa_midi
from alsa_midi.exceptions import ALSAError

TIMER = NS_PER_MS


class Kernel:
    """A sequencer: queues that run by their own clock, a pool, ports that come and go.

    Attributes:
        drift: how much faster its clock goes, in millionths.
        heard: what reached the ports that a client of ours is connected to: (destination, bytes).
    """

    def __init__(self, clock: FakeClock) -> None:
        self.clock = clock
        self.drift = 0
        self.ports: dict[tuple[int, int], Any] = {}
        self.links: set[tuple[tuple[int, int], tuple[int, int]]] = set()
        self.waiting: list[tuple[int, int, int, Any, tuple[int, int], bytes]] = []
        self.heard: list[tuple[tuple[int, int], bytes]] = []
        self.clients: list[Double] = []
        self.count = 0
        self.gone = False
        self.add("Synth", "in", 20, alsa_midi.WRITE_PORT)
        self.add("Board", "out", 24, alsa_midi.READ_PORT)

    def add(self, client: str, name: str, number: int, caps: Any) -> tuple[int, int]:
        info = alsa_midi.PortInfo(client_id=number, port_id=0, name=name, capability=caps)
        info.client_name = client
        self.ports[number, 0] = info
        self.announce(alsa_midi.EventType.PORT_START)
        return (number, 0)

    def take_away(self, number: int) -> None:
        del self.ports[number, 0]
        self.links = {link for link in self.links if (number, 0) not in link}
        self.announce(alsa_midi.EventType.PORT_EXIT)

    def announce(self, kind: Any) -> None:
        for client in self.clients:
            client.came(SimpleNamespace(type=kind, time=None))

    def time(self) -> int:
        now = self.clock.now()
        return now + now * self.drift // 1_000_000

    def run(self) -> None:
        """Delivers what is due, in the order of time, then of coming; the timer goes once a millisecond."""
        due = self.time() // TIMER * TIMER
        now = sorted((one for one in self.waiting if one[0] <= due), key=lambda one: one[:2])
        self.waiting = [one for one in self.waiting if one[0] > due]
        for *_, source, data in now:
            self.heard += [(to, data) for whence, to in sorted(self.links) if whence == source]

    def play(self, source: tuple[int, int], data: bytes) -> None:
        """A device sends something now."""
        for whence, to in self.links:
            for client in self.clients:
                if whence == source and to[0] == client.client_id:
                    stamp = alsa_midi.RealTime(*divmod(self.time(), NS_PER_SECOND))
                    client.came(alsa_midi.MidiBytesEvent(data, time=stamp))


class Double(alsa_midi.SequencerClient):  # type: ignore[misc]
    """The package's own client where it needs no kernel."""

    def __init__(self, kernel: Kernel, name: str) -> None:
        self._handle_p = None
        self._event_parser = None
        self.kernel = kernel
        self.client_id = 128 + len(kernel.clients)
        self.name = name
        self._ours, self._theirs = socket.socketpair()
        self._fd = self._ours.fileno()
        self._in: list[Any] = []
        self._ports = 0
        self.announced = False
        self.closed = 0
        kernel.clients.append(self)

    def came(self, event: Any) -> None:
        if event.time is not None or self.announced:
            self._in.append(event)
            self._theirs.send(b"\0")

    def set_client_pool_output(self, size: int) -> None:
        assert size <= 2000

    def create_queue(self, name: str) -> Any:
        return SimpleNamespace(queue_id=3, name=name, start=lambda: None)

    def create_port(self, name: str, caps: Any, kind: Any, **stamp: Any) -> Any:
        port = SimpleNamespace(port_id=self._ports)
        self._ports += 1
        info = alsa_midi.PortInfo(
            client_id=self.client_id, port_id=port.port_id, name=name, capability=caps, type=kind
        )
        info.client_name = self.name
        self.kernel.ports[self.client_id, port.port_id] = info
        return port

    def subscribe_port(self, sender: Any, dest: Any) -> None:
        sender, dest = tuple(alsa_midi.Address(sender)), tuple(alsa_midi.Address(dest))
        if sender == tuple(alsa_midi.SYSTEM_ANNOUNCE):
            self.announced = True
            return
        if sender not in self.kernel.ports or dest not in self.kernel.ports:
            raise ALSAError("No such device", -19)
        self.kernel.links.add((sender, dest))

    def drain_output(self) -> int:
        self.kernel.run()
        return 0

    def get_queue_status(self, queue_id: int) -> Any:
        assert queue_id == 3
        if self.kernel.gone:
            raise ALSAError("No such device", -19)
        self.kernel.run()
        stamp = alsa_midi.RealTime(*divmod(self.kernel.time(), NS_PER_SECOND))
        return alsa_midi.QueueStatus(queue_id=3, real_time=stamp)

    def event_output(self, event: Any, queue: Any = None, port: Any = None, dest: Any = None) -> int:
        made, rest = self._prepare_event(event, queue=queue.queue_id, port=port.port_id, dest=dest)
        assert rest is None
        assert made.type != alsa_midi.EventType.NONE
        assert made.queue == 3
        assert made.flags & alsa_midi.EventFlags.TIME_STAMP_MASK == alsa_midi.EventFlags.TIME_STAMP_REAL
        assert made.flags & alsa_midi.EventFlags.TIME_MODE_MASK == alsa_midi.EventFlags.TIME_MODE_ABS
        ns = made.time.time.tv_sec * NS_PER_SECOND + made.time.time.tv_nsec
        self.kernel.count += 1
        source = (self.client_id, made.source.port)
        self.kernel.waiting.append((ns, self.kernel.count, made.tag, self, source, event.midi_bytes))
        return 0

    def remove_events(self, condition: Any = None, queue: Any = None, tag: int | None = None) -> None:
        """As the kernel's `prioq_remove_match`: all conditions that are given must fit."""
        assert condition == alsa_midi.RemoveCondition.OUTPUT
        self.kernel.run()
        self.kernel.waiting = [
            one for one in self.kernel.waiting if one[3] is not self or (tag is not None and one[2] != tag)
        ]

    def list_ports(self, *, input: bool = False, output: bool = False) -> list[Any]:
        caps = alsa_midi.WRITE_PORT if output else alsa_midi.READ_PORT
        return [info for info in self.kernel.ports.values() if info.capability & caps == caps]

    def event_input_pending(self, fetch_sequencer: bool = False) -> int:
        assert fetch_sequencer
        return len(self._in)

    def event_input(self, prefer_bytes: bool = False, timeout: float | None = None) -> Any:
        assert prefer_bytes
        self._ours.recv(1)
        event = self._in.pop(0)
        if isinstance(event, ALSAError):
            raise event
        return event

    def close(self) -> None:
        if not self.closed:
            self.kernel.waiting = [one for one in self.kernel.waiting if one[3] is not self]
            self.kernel.links = {
                link for link in self.kernel.links if self.client_id not in (link[0][0], link[1][0])
            }
            self._ours.close()
            self._theirs.close()
        self.closed += 1


class Package:
    """The package with a client of ours in place of its own."""

    def __init__(self, kernel: Kernel | None) -> None:
        self._kernel = kernel

    def SequencerClient(self, name: str) -> Double:  # noqa: N802 - the package's name
        if self._kernel is None:
            raise ALSAError("No such file or directory", -2)
        return Double(self._kernel, name)

    def __getattr__(self, name: str) -> Any:
        return getattr(alsa_midi, name)


class Bench:
    def __init__(
        self, monkeypatch: pytest.MonkeyPatch, *, to: str | None = "Synth", source: str | None = "Board"
    ) -> None:
        self.clock = FakeClock()
        self.clock.jump(100 * NS_PER_SECOND)
        self.kernel = Kernel(self.clock)
        monkeypatch.setattr(module, "load", lambda: Package(self.kernel))
        self.inbox = Inbox()
        self.changes: list[Any] = []
        setup = PortSetup("main", "alsa", to=to, source=source)
        try:
            self.port: AlsaPort = open_port(
                0, setup, now=self.clock.now, inbox=self.inbox, on_change=self.changes.append
            )
        except PortError:
            self.inbox.close()
            raise

    def wait(self, ns: int) -> None:
        end = self.clock.now() + ns
        while self.clock.now() < end:
            self.clock.jump(min(end, self.clock.now() + 50 * NS_PER_MS))
            self.port._guard(self.port._read)

    def received(self) -> list[bytes]:
        self.kernel.run()
        return [data for _, data in self.kernel.heard]

    def close(self) -> None:
        self.port.close()
        self.inbox.close()


@pytest.fixture
def make(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Bench]]:
    made: list[Bench] = []

    def one(**wanted: Any) -> Bench:
        made.append(Bench(monkeypatch, **wanted))
        return made[-1]

    yield one
    for bench in made:
        bench.close()


def test_the_port_keeps_the_contract(make: Callable[..., Bench]) -> None:
    def fresh() -> PortBench:
        made = make()
        return PortBench(
            port=made.port,
            now=made.clock.now,
            wait=made.wait,
            received=made.received,
            vanish=lambda: setattr(made.kernel, "gone", True),
            tolerance=TIMER,
        )

    check_port(fresh)


def test_a_queue_that_drifts_is_followed(make: Callable[..., Bench]) -> None:
    bench = make()
    bench.kernel.drift = 100
    bench.wait(60 * NS_PER_SECOND)
    bench.port.sent()
    at = bench.clock.now() + bench.port.lookahead
    bench.port.hand([Cue(at, Rank.ON, 0, note_on(0, 60, 80))])
    placed = bench.kernel.waiting[0][0]
    assert abs(placed - (at + at * 100 // 1_000_000)) <= NS_PER_MS // 2
    bench.wait(bench.port.lookahead + 2 * NS_PER_MS)
    (sent,) = bench.port.sent()
    assert abs(sent.actual - sent.ideal) <= bench.port.lookahead * 100 // 1_000_000 + 1000


def test_what_comes_in_is_stamped_by_the_kernel(make: Callable[..., Bench]) -> None:
    bench = make()
    pressed = bench.clock.now()
    bench.kernel.play((24, 0), control(0, 64, 127))
    assert bench.inbox.wait(0)
    bench.clock.jump(pressed + 7 * NS_PER_MS)
    assert bench.port.heard() == [Heard(0, pressed, control(0, 64, 127))]
    assert bench.port.heard() == []
    assert not bench.inbox.wait(0)


def test_an_overrun_ends_nothing(make: Callable[..., Bench]) -> None:
    bench = make()
    client = bench.kernel.clients[-1]
    client._in.append(ALSAError("No space left on device", -28))
    client._theirs.send(b"\0")
    bench.kernel.play((24, 0), control(0, 64, 0))
    assert [event.data for event in bench.port.heard()] == [control(0, 64, 0)]


def test_every_kind_of_message_that_is_sent_can_be_given_to_the_package(make: Callable[..., Bench]) -> None:
    bench = make()
    messages = [
        note_on(0, 60, 80),
        note_off(0, 60),
        control(9, 7, 100),
        bytes((0xC3, 5)),
        bytes((0xE0, 0, 64)),
        CLOCK,
        STOP,
        ACTIVE_SENSING,
        bytes((0xF3, 3)),
    ]
    now = bench.clock.now()
    bench.port.hand([Cue(now + place, Rank.CONTROL, place, data) for place, data in enumerate(messages)])
    bench.wait(10 * NS_PER_MS)
    assert bench.received() == messages


def test_beyond_255_that_wait_some_cannot_be_taken_back(make: Callable[..., Bench]) -> None:
    bench = make()
    at = bench.clock.now() + bench.port.lookahead
    cues = [Cue(at + place, Rank.ON, place, note_on(0, place % 128, 80)) for place in range(300)]
    bench.port.hand(cues)
    assert sorted(bench.port.withdraw(-1)) == cues[:255]
    bench.wait(bench.port.lookahead + 2 * NS_PER_MS)
    assert [(0, data) for data in bench.received()] == [(0, cue.data) for cue in cues[255:]]
    bench.port.sent()
    bench.port.hand([Cue(bench.clock.now() + 20 * NS_PER_MS, Rank.ON, 400, note_on(0, 1, 80))])
    assert len(bench.port.withdraw(-1)) == 1


def test_closing_sends_the_offs_that_are_due_and_no_on(make: Callable[..., Bench]) -> None:
    bench = make()
    now = bench.clock.now()
    bench.port.hand([Cue(now, Rank.ON, 0, note_on(0, 60, 80))])
    bench.wait(5 * NS_PER_MS)
    bench.port.hand(
        [
            Cue(now + 25 * NS_PER_MS, Rank.OFF, 1, note_off(0, 60)),
            Cue(now + 26 * NS_PER_MS, Rank.ON, 2, note_on(0, 62, 80)),
            Cue(now + 28 * NS_PER_MS, Rank.OFF, 3, note_off(0, 62)),
        ]
    )
    bench.port.close()
    bench.port.close()
    assert bench.kernel.clients[-1].closed == 1
    assert bench.received() == [note_on(0, 60, 80), note_off(0, 60)]


def test_a_synth_that_goes_and_comes_is_connected_again(make: Callable[..., Bench]) -> None:
    bench = make()
    assert bench.port.connections == (["Synth:in 20:0"], ["Board:out 24:0"])
    bench.kernel.take_away(20)
    assert bench.port.heard() == [Unplugged(0, "Synth:in 20:0", True)]
    bench.kernel.add("Other", "in", 21, alsa_midi.WRITE_PORT)
    assert bench.port.heard() == []
    bench.kernel.add("Synth", "in", 22, alsa_midi.WRITE_PORT)
    assert bench.port.heard() == [Plugged(0, "Synth:in 22:0", True)]
    assert bench.changes == [{0: ([], ["Board:out 24:0"])}, {0: (["Synth:in 22:0"], ["Board:out 24:0"])}]


def test_any_source_takes_what_comes_later_too(make: Callable[..., Bench]) -> None:
    bench = make(source="", to=None)
    bench.kernel.add("Pads", "out", 25, alsa_midi.READ_PORT)
    assert bench.port.heard() == [Plugged(0, "Pads:out 25:0", False, alone=False)]
    assert bench.port.connections == ([], ["Board:out 24:0", "Pads:out 25:0"])


def test_a_name_that_is_not_there_is_told_with_those_that_are(make: Callable[..., Bench]) -> None:
    with pytest.raises(PortError, match=r"no alsa MIDI destination matches 'Organ'; there are: 'Synth:in'"):
        make(to="Organ")


def test_a_sequencer_that_fails_is_gone(make: Callable[..., Bench]) -> None:
    bench = make()
    bench.kernel.gone = True
    bench.port.hand([Cue(bench.clock.now(), Rank.ON, 0, note_on(0, 60, 80))])
    assert bench.port.heard() == [Gone(0, "No such device")]
    assert bench.port.sent() == []


def test_what_there_is_is_listed_without_the_programs_own(make: Callable[..., Bench]) -> None:
    make()
    listing = list_ports()
    assert (listing.system, listing.destinations[:1], listing.sources[:1]) == (
        "alsa",
        ("Synth:in",),
        ("Board:out",),
    )


def test_no_sequencer_and_no_package_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "load", lambda: Package(None))
    assert list_ports().reason == "no ALSA sequencer: No such file or directory"
    with pytest.raises(PortError, match="no ALSA sequencer"):
        AlsaClient("x", sends=True, listens=False)
    monkeypatch.undo()
    monkeypatch.setitem(sys.modules, "alsa_midi", None)
    with pytest.raises(PortError, match=r"pip install '\.\[alsa\]'"):
        module.load()
