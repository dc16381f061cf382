"""The RtMidi port, over RtMidi's own JACK interface where the server takes the binding's libjack."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from introit.chatter import hushed
from introit.errors import PortError
from introit.live.clock import SystemClock
from introit.live.cue import Cue, Rank
from introit.live.events import Back, Gone, Heard
from introit.live.inbox import Inbox
from introit.live.messages import note_off, note_on
from introit.live.ports import immediate
from introit.live.ports.immediate import Driver, ImmediatePort
from introit.live.ports.opener import rtmidi_driver
from introit.live.setup import PortSetup
from introit.testing import PortBench, check_port
from introit.units import NS_PER_MS, NS_PER_SECOND


class Rig:
    def __init__(self, setup: PortSetup, driver: Driver) -> None:
        self.inbox = Inbox()
        self.clock = SystemClock()
        try:
            self.port = ImmediatePort(0, setup, driver, inbox=self.inbox, now=self.clock.now)
        except PortError:
            self.inbox.close()
            raise

    def heard_within(self, seconds: float, kind: type, count: int = 1) -> list[Any]:
        heard: list[Any] = []
        limit = time.monotonic() + seconds
        while len(heard) < count and time.monotonic() < limit:
            self.inbox.wait(0.05)
            self.inbox.drain()
            heard += [event for event in self.port.heard() if isinstance(event, kind)]
        return heard

    def close(self) -> None:
        self.port.close()
        self.inbox.close()


@pytest.fixture
def driver(jack_server: Any, monkeypatch: pytest.MonkeyPatch) -> Driver:
    monkeypatch.setattr(immediate, "WATCH_SECONDS", 0.05)
    found = rtmidi_driver("jack")
    refused = ""
    with hushed() as chatter:
        try:
            end = found.make_out("is-it-taken")
            end.get_ports()
            end.delete()
        except Exception as error:
            refused = str(error)
    if refused or chatter:  # such as "protocol mismatch": a binding may bring a libjack of its own
        pytest.skip(f"{found.name} cannot use this JACK server: {[refused, *chatter]}")
    return found


@pytest.fixture
def make_rig(driver: Driver) -> Iterator[Callable[[PortSetup], Rig]]:
    made: list[Rig] = []

    def make(setup: PortSetup) -> Rig:
        made.append(Rig(setup, driver))
        return made[-1]

    yield make
    for rig in made:
        rig.close()


def test_it_keeps_the_contract(
    make_recorder: Callable[[str], Any], make_rig: Callable[[PortSetup], Rig]
) -> None:
    far: list[Any] = []

    def bench() -> PortBench:
        if not far or not far[-1].alive():
            far.append(make_recorder(f"far{len(far)}"))
        recorder = far[-1]
        before = len(recorder.events())
        rig = make_rig(PortSetup("synth", "rtmidi", to=f"{recorder.name}:in"))
        return PortBench(
            port=rig.port,
            now=rig.clock.now,
            wait=lambda ns: time.sleep(ns / NS_PER_SECOND),
            received=lambda: [data for _, data in recorder.events()[before:]],
            vanish=lambda: (recorder.close(), time.sleep(0.3))[0],
            tolerance=20 * NS_PER_MS,  # a sleep ends late, the more so on a busy machine
        )

    check_port(bench)


def test_notes_go_out_and_what_comes_in_is_stamped(
    recorder: Any, make_rig: Callable[[PortSetup], Rig], make_recorder: Callable[[str], Any]
) -> None:
    foot = make_recorder("foot")
    rig = make_rig(PortSetup("synth", "rtmidi", to="PROBE:in", source="foot"))
    before = rig.clock.now()
    foot.play_now(b"\xb0\x40\x7f")
    (heard,) = rig.heard_within(2, Heard)
    assert heard.data == b"\xb0\x40\x7f"
    assert before < heard.ns <= rig.clock.now()
    rig.port.hand([Cue(rig.clock.now(), Rank.ON, 1, note_on(2, 60, 64))])
    assert [data for _, data in recorder.wait_for(1)] == [note_on(2, 60, 64)]
    assert rig.port.destination == "probe:in"


def test_a_destination_that_goes_is_told_and_opened_again_when_it_is_back(
    make_recorder: Callable[[str], Any], make_rig: Callable[[PortSetup], Rig]
) -> None:
    synth = make_recorder("synth")
    rig = make_rig(PortSetup("out", "rtmidi", to="synth:in"))
    synth.close()
    assert [event.port for event in rig.heard_within(3, Gone)] == [0]
    rig.port.hand([Cue(rig.clock.now(), Rank.ON, 1, note_on(2, 60, 64))])
    assert rig.port.sent() == []
    again = make_recorder("synth")
    assert rig.heard_within(3, Back) == [Back(0)]
    rig.port.hand([Cue(rig.clock.now(), Rank.OFF, 2, note_off(2, 60))])
    assert [data for _, data in again.wait_for(1)] == [note_off(2, 60)]


def test_a_virtual_port_is_offered(recorder: Any, make_rig: Callable[[PortSetup], Rig]) -> None:
    make_rig(PortSetup("offer", "rtmidi", to="", virtual=True))
    assert any(name.endswith(":offer") for name in recorder.ports())


def test_a_missing_name_is_an_error_that_lists_what_there_is(
    recorder: Any, make_rig: Callable[[PortSetup], Rig]
) -> None:
    with pytest.raises(
        PortError, match=r"no rtmidi MIDI destination matches 'prob:in'; there are: 'probe:in'"
    ):
        make_rig(PortSetup("synth", "rtmidi", to="prob:in"))
