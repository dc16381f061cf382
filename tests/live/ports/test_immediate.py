"""Immediate ports on a driver of our own making: what a binding may do, without one."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import pytest

from introit.errors import PortError
from introit.live.cue import Cue, Rank
from introit.live.events import Back, Gone, Heard, Plugged, Sent, Unplugged
from introit.live.inbox import Inbox
from introit.live.messages import note_off, note_on
from introit.live.ports import immediate
from introit.live.ports.immediate import Driver, ImmediatePort
from introit.live.setup import PortSetup
from introit.testing import FakeClock, PortBench, check_port


@dataclass
class Machine:
    """What the driver sees: names of ports, and what was sent to each."""

    destinations: list[str] = field(default_factory=lambda: ["Synth:1", "Synth:2"])
    sources: list[str] = field(default_factory=lambda: ["Foot:1"])
    sent: list[tuple[str, bytes]] = field(default_factory=list)
    takers: list[Callable[[Sequence[int]], None]] = field(default_factory=list)
    ends: list[End] = field(default_factory=list)
    broken: bool = False
    looks: int = 0

    def driver(self, *, virtual: bool = True) -> Driver:
        def make_out(_name: str) -> End:
            self.ends.append(End(self, self.destinations))
            return self.ends[-1]

        def make_in(_name: str, take: Callable[[Sequence[int]], None]) -> End:
            self.takers.append(take)
            self.ends.append(End(self, self.sources))
            return self.ends[-1]

        return Driver("fake", "fakes", virtual, make_out, make_in)


@dataclass
class End:
    machine: Machine
    names: list[str]
    to: str = ""
    deleted: bool = False
    ignores_timing: bool = True

    def ignore_types(self, *, sysex: bool, timing: bool, active_sense: bool) -> None:
        assert sysex
        assert active_sense
        self.ignores_timing = timing

    def get_ports(self) -> list[str]:
        self.machine.looks += 1
        return list(self.names)

    def open_port(self, number: int, _name: str) -> None:
        name = self.names[number]
        self.to = f"{name}@{number}" if name == "Board" else name  # where names do not tell, the index does

    def open_virtual_port(self, name: str) -> None:
        self.to = f"virtual {name}"

    def send_message(self, message: list[int]) -> None:
        if self.machine.broken:
            raise RuntimeError("unplugged")
        self.machine.sent.append((self.to, bytes(message)))

    def close_port(self) -> None:
        self.to = ""

    def delete(self) -> None:
        self.deleted = True


class Rig:
    def __init__(self, setup: PortSetup, machine: Machine, driver: Driver | None = None) -> None:
        self.clock = FakeClock()
        self.inbox = Inbox()
        try:
            self.port = ImmediatePort(
                2,
                setup,
                driver or machine.driver(),
                inbox=self.inbox,
                now=self.clock.now,
                stamp=self.clock.now,
            )
        except PortError:
            self.inbox.close()
            raise

    def close(self) -> None:
        self.port.close()
        self.inbox.close()


@pytest.fixture
def machine() -> Machine:
    return Machine()


@pytest.fixture
def make(machine: Machine, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Any]]:
    monkeypatch.setattr(immediate, "WATCH_SECONDS", 0.002)
    made: list[Rig] = []

    def rig(driver: Driver | None = None, **setup: Any) -> Rig:
        made.append(Rig(PortSetup("port", "rtmidi", **setup), machine, driver))
        return made[-1]

    yield rig
    for one in made:
        one.close()
    assert all(end.deleted for end in machine.ends)


ON = Cue(5, Rank.ON, 1, note_on(0, 60, 64))
OFF = Cue(6, Rank.OFF, 2, note_off(0, 60))


def heard(rig: Rig, count: int = 1) -> list[Any]:
    """What a driver's thread left, which takes a moment."""
    found: list[Any] = []
    limit = time.monotonic() + 5
    while len(found) < count and time.monotonic() < limit:
        rig.inbox.wait(0.01)
        rig.inbox.drain()
        found += rig.port.heard()
    return found


def test_it_keeps_the_contract(machine: Machine, make: Callable[..., Any]) -> None:
    def bench() -> PortBench:
        machine.sent.clear()
        machine.broken = False
        rig = make(to="Synth:2")

        def vanish() -> None:
            machine.broken = True
            rig.port.hand([ON])

        return PortBench(
            port=rig.port,
            now=rig.clock.now,
            wait=lambda ns: rig.clock.jump(rig.clock.now() + ns),
            received=lambda: [data for _, data in machine.sent],
            vanish=vanish,
        )

    check_port(bench)


def test_a_message_leaves_when_it_is_handed_and_is_told_with_both_times(
    machine: Machine, make: Callable[..., Any]
) -> None:
    rig = make(to="synth:2", source="foot")
    rig.port.hand([ON, OFF])
    now = rig.clock.now()
    assert machine.sent == [("Synth:2", ON.data), ("Synth:2", OFF.data)]
    assert rig.port.sent() == [Sent(2, 5, now, ON.data), Sent(2, 6, now, OFF.data)]
    assert rig.port.withdraw(-1) == []
    assert rig.port.destination == "Synth:2"


def test_what_comes_in_is_stamped_and_wakes_the_loop(machine: Machine, make: Callable[..., Any]) -> None:
    rig = make(source="Foot:1")
    machine.takers[1]([0xB0, 64, 127])
    assert rig.inbox.wait(0)
    assert rig.port.heard() == [Heard(2, rig.clock.now(), b"\xb0\x40\x7f")]
    rig.port.hand([ON])  # it does not send
    assert rig.port.sent() == []


def test_an_error_in_sending_is_told_once_as_gone(machine: Machine, make: Callable[..., Any]) -> None:
    rig = make(to="", virtual=True)
    machine.broken = True
    rig.port.hand([ON, OFF])
    rig.port.hand([ON])
    assert rig.port.heard() == [Gone(2, "unplugged")]
    assert rig.port.sent() == []


def test_an_unplugged_device_is_told_and_opened_again_when_it_is_back(
    machine: Machine, make: Callable[..., Any]
) -> None:
    rig = make(to="Synth:2", source="Foot:1")
    machine.destinations.remove("Synth:2")
    assert heard(rig) == [Gone(2, "'Synth:2' has gone")]
    rig.port.hand([ON])
    machine.destinations.insert(0, "Synth:2")  # its number may be another
    assert heard(rig) == [Back(2)]
    rig.port.hand([OFF])
    assert machine.sent == [("Synth:2", OFF.data)]


def test_a_virtual_port_needs_a_system_that_has_them(machine: Machine, make: Callable[..., Any]) -> None:
    rig = make(to="", source="", virtual=True)
    rig.port.hand([ON])
    assert machine.sent == [("virtual port", ON.data)]
    with pytest.raises(PortError, match="fakes has no virtual ports; name a port to connect to"):
        make(machine.driver(virtual=False), to="", virtual=True)


@pytest.mark.parametrize("wanted", ["nobody", "synth"])
def test_a_name_that_is_missing_or_not_unique_opens_nothing(
    machine: Machine, make: Callable[..., Any], wanted: str
) -> None:
    with pytest.raises(PortError, match="rtmidi MIDI destination"):
        make(to=wanted, source="Foot:1")


def test_the_empty_name_takes_the_first_or_none(machine: Machine, make: Callable[..., Any]) -> None:
    machine.destinations.insert(0, "introit:port 7:0")  # one of ours is never taken
    assert make(to="").port.destination == "Synth:1"
    machine.destinations.clear()
    rig = make(to="")
    rig.port.hand([ON])
    assert rig.port.heard() == []


def test_a_driver_that_raises_is_a_port_error(machine: Machine, make: Callable[..., Any]) -> None:
    def refuse(_name: str) -> Any:
        raise OSError("no sequencer")

    driver = Driver("fake", "fakes", True, refuse, machine.driver().make_in)
    with pytest.raises(PortError, match="port 'port' cannot be opened: no sequencer"):
        make(driver, to="Synth:1")


def test_any_opens_every_source_and_tells_those_that_come_and_go(
    machine: Machine, make: Callable[..., Any]
) -> None:
    machine.sources.append("Keys:1")
    rig = make(source="")
    assert rig.port.connections == ([], ["Foot:1", "Keys:1"])
    machine.sources.append("Late:1")
    assert heard(rig) == [Plugged(2, "Late:1", False, alone=False)]
    machine.sources.remove("Foot:1")
    assert heard(rig) == [Unplugged(2, "Foot:1", False, alone=False)]
    assert rig.port.connections == ([], ["Keys:1", "Late:1"])


def test_any_with_nothing_there_opens_what_appears(machine: Machine, make: Callable[..., Any]) -> None:
    machine.destinations.clear()
    rig = make(to="")
    rig.port.hand([ON])
    machine.destinations.append("Synth:9")
    assert heard(rig) == [Plugged(2, "Synth:9", True)]
    rig.port.hand([OFF])
    assert machine.sent == [("Synth:9", OFF.data)]


def test_a_foot_switch_that_is_pulled_leaves_the_destination_alone(
    machine: Machine, make: Callable[..., Any]
) -> None:
    rig = make(to="Synth:2", source="Foot:1")
    machine.sources.clear()
    assert heard(rig) == [Unplugged(2, "Foot:1", False)]
    rig.port.hand([ON])
    assert machine.sent == [("Synth:2", ON.data)]
    machine.sources.append("Foot:1")
    assert heard(rig) == [Plugged(2, "Foot:1", False)]


def test_a_device_that_returns_under_another_number_is_the_same(
    machine: Machine, make: Callable[..., Any]
) -> None:
    machine.destinations[:] = ["Box:Box 128:0", "Box:Box B 128:1"]
    rig = make(to="Box 128:0")
    machine.destinations.clear()
    assert heard(rig) == [Gone(2, "'Box:Box 128:0' has gone")]
    machine.destinations[:] = ["Box:Box 131:0", "Box:Box B 131:1"]
    assert heard(rig) == [Back(2)]
    assert rig.port.destination == "Box:Box 131:0"


def settle(machine: Machine, change: Callable[[], None]) -> None:
    """Plugs something, and waits until the watchers have looked twice."""
    change()
    before = machine.looks
    limit = time.monotonic() + 5
    while machine.looks < before + 6 and time.monotonic() < limit:
        time.sleep(0.001)


def test_the_second_of_two_devices_with_one_name_is_opened_by_its_place(
    machine: Machine, make: Callable[..., Any]
) -> None:
    machine.destinations[:] = ["Board", "Synth", "Board"]
    first, second = make(to="Board").port, make(to="Board (2)").port
    first.hand([ON])
    second.hand([OFF])
    assert machine.sent == [("Board@0", ON.data), ("Board@2", OFF.data)]
    assert second.destination == "Board (2)"
    with pytest.raises(PortError, match=r"write 'boar \(1\)' or 'boar \(2\)'"):
        make(to="boar")


def test_the_device_that_stayed_is_not_taken_for_its_like_that_went(
    machine: Machine, make: Callable[..., Any]
) -> None:
    machine.destinations[:] = ["Board:MIDI 20:0", "Board:MIDI 24:0"]
    first, second = make(to="Board (1)"), make(to="Board (2)")
    machine.destinations.remove("Board:MIDI 24:0")
    assert heard(second) == [Gone(2, "'Board:MIDI 24:0' has gone")]
    settle(machine, lambda: None)
    assert second.port.heard() == []
    assert second.port.connections == ([], [])
    machine.destinations.append("Board:MIDI 28:0")  # back, under another number
    assert heard(second) == [Back(2)]
    assert second.port.destination == "Board:MIDI 28:0"
    assert first.port.destination == "Board:MIDI 20:0"
    assert first.port.heard() == []


def test_of_two_that_were_away_each_is_known_by_its_number(
    machine: Machine, make: Callable[..., Any]
) -> None:
    machine.destinations[:] = ["Board:MIDI 20:0", "Board:MIDI 24:0"]
    first, second = make(to="Board (1)"), make(to="Board (2)")
    machine.destinations.clear()
    assert heard(first) + heard(second) == [
        Gone(2, "'Board:MIDI 20:0' has gone"),
        Gone(2, "'Board:MIDI 24:0' has gone"),
    ]
    machine.destinations.append("Board:MIDI 24:0")
    assert heard(second) == [Back(2)]
    settle(machine, lambda: None)
    assert first.port.connections == ([], [])
    machine.destinations.insert(0, "Board:MIDI 20:0")
    assert heard(first) == [Back(2)]
    assert (first.port.destination, second.port.destination) == ("Board:MIDI 20:0", "Board:MIDI 24:0")


def test_what_cannot_be_known_leaves_an_open_end_where_it_is(
    machine: Machine, make: Callable[..., Any]
) -> None:
    machine.destinations[:] = ["Board", "Board"]
    rig = make(to="Board (2)")
    settle(machine, machine.destinations.pop)  # one of them; which, the system does not tell
    assert rig.port.heard() == []
    rig.port.hand([ON])
    machine.broken = True  # it was ours after all
    rig.port.hand([OFF])
    assert heard(rig) == [Gone(2, "unplugged")]
    machine.broken = False
    settle(machine, lambda: None)
    assert rig.port.heard() == []  # its namesake has stayed, and is not ours
    machine.destinations.append("Board")
    assert heard(rig) == [Back(2)]
    rig.port.hand([OFF])
    assert machine.sent == [("Board@1", ON.data), ("Board@1", OFF.data)]


def test_of_every_source_those_with_one_name_are_opened_anew_when_one_goes_or_comes(
    machine: Machine, make: Callable[..., Any]
) -> None:
    machine.sources[:] = ["Board", "Keys", "Board"]
    rig = make(source="")
    machine.sources.pop(0)
    assert heard(rig) == [Unplugged(2, "Board (2)", False, alone=False)]
    assert open_sources(machine) == ["Board@1", "Keys"]  # Keys is left alone
    machine.sources.insert(0, "Board")
    assert heard(rig) == [Plugged(2, "Board (2)", False, alone=False)]
    assert open_sources(machine) == ["Board@0", "Board@2", "Keys"]


def open_sources(machine: Machine) -> list[str]:
    """What the open inputs were opened to, with their indexes then."""
    return sorted(end.to for end in machine.ends if end.to and end.names is machine.sources)


def test_the_drivers_thread_never_asks_the_session_clock(machine: Machine) -> None:
    asked: list[int] = []
    times = iter([1_000, 1_250])
    inbox = Inbox()

    def now() -> int:
        asked.append(1)
        return 9_000

    setup = PortSetup("port", "rtmidi", source="Foot:1")
    port = ImmediatePort(2, setup, machine.driver(), inbox=inbox, now=now, stamp=lambda: next(times))
    machine.takers[1]([0xB0, 64, 127])
    assert asked == []
    assert port.heard() == [Heard(2, 8_750, b"\xb0\x40\x7f")]
    port.close()
    inbox.close()


@pytest.mark.parametrize("timing", [False, True])
def test_clock_is_heard_only_where_it_is_asked_for(
    machine: Machine, make: Callable[..., Any], timing: bool
) -> None:
    make(source="Foot:1", timing=timing)
    assert [end.ignores_timing for end in machine.ends if end.to == "Foot:1"] == [not timing]
