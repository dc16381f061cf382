"""What is sent for a player that died. Ports are stand-ins that record; sleeps are counted, not slept."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from introit.errors import PortError
from introit.live import aftermath
from introit.live.cue import Cue
from introit.live.ledger import Ledger
from introit.live.messages import CONTINUE, START, STOP, all_notes_off, note_off, note_on
from introit.live.setup import PortSetup, Setup

SETUP = Setup(
    ports=(
        PortSetup("synth", "jack", to="syn", source="foot"),
        PortSetup("box", "jack", to="", virtual=True),
        PortSetup("foot", "jack", source="foot"),
    ),
    routes=(),
    tunes=1,
)


class DriverError(Exception):
    """As a binding's own: no kin of `PortError`."""


class Recording:
    def __init__(self, to: str, log: list[tuple[str, bytes]]) -> None:
        self._to = to
        self._log = log
        self.closed = False

    def hand(self, cues: Sequence[Cue]) -> None:
        if self._to == "faulty:in":
            raise DriverError("no buffer")
        self._log += [(self._to, cue.data) for cue in cues]

    def close(self) -> None:
        self.closed = True
        if self._to == "faulty:in":
            raise DriverError("not open")


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, bytes]]:
    log: list[tuple[str, bytes]] = []

    def open_ports(setup: Setup, _inbox: Any, *, client_name: str) -> tuple[list[Any], None]:
        assert not any(port.virtual or port.source is not None for port in setup.ports)
        assert len({port.name for port in setup.ports}) == len(setup.ports)
        assert client_name != "introit"
        if any(port.to == "gone:in" for port in setup.ports):
            raise PortError("no such port")
        if any(port.to == "odd:in" for port in setup.ports):
            raise DriverError("odd")
        return [Recording(str(port.to), log) for port in setup.ports], None

    monkeypatch.setattr(aftermath, "open_ports", open_ports)
    return log


def ledger() -> Ledger:
    return Ledger.create(bytearray(Ledger.size(3)), 3)


def test_every_owed_note_is_released_where_the_dead_one_was_connected(
    opened: list[tuple[str, bytes]],
) -> None:
    book = ledger()
    for data in (note_on(0, 60, 64), note_on(0, 60, 64), note_on(2, 40, 64)):
        book.owe(0, data)
    slept: list[float] = []
    released = aftermath.release(SETUP, book, {"0": ["synth:in"]}, sleep=slept.append)
    once = [note_off(0, 60), note_off(0, 60), note_off(2, 40), all_notes_off(0), all_notes_off(2)]
    assert [data for _, data in opened] == once * 5
    assert {to for to, _ in opened} == {"synth:in"}
    assert sum(slept) == pytest.approx(0.2)
    assert released == 3
    assert book.owed(0) == []


def test_who_plays_by_our_clock_is_stopped_before_all_else(opened: list[tuple[str, bytes]]) -> None:
    book = ledger()
    book.owe(0, START)
    book.owe(1, CONTINUE)
    book.owe(1, note_on(0, 60, 64))
    reached = {"0": ["drums:in"], "1": ["synth:in"]}
    assert aftermath.release(SETUP, book, reached, sleep=lambda _: None) == 1
    assert [data for to, data in opened if to == "drums:in"] == [STOP] * 5
    assert [data for to, data in opened if to == "synth:in"] == [STOP, note_off(0, 60), all_notes_off(0)] * 5
    assert not book.leads(0)
    assert not book.leads(1)


def test_a_stop_that_cannot_be_sent_stays_owed(opened: list[tuple[str, bytes]]) -> None:
    book = ledger()
    book.owe(0, START)
    aftermath.release(SETUP, book, {"0": ["gone:in"]}, sleep=lambda _: None)
    assert opened == []
    assert book.leads(0)


def test_a_virtual_port_is_released_at_everything_that_listened(opened: list[tuple[str, bytes]]) -> None:
    book = ledger()
    book.owe(1, note_on(0, 60, 64))
    aftermath.release(SETUP, book, {"1": ["a:in", "b:in"]}, sleep=lambda _: None)
    assert {to for to, data in opened if data == note_off(0, 60)} == {"a:in", "b:in"}


def test_what_cannot_be_reached_stays_owed(opened: list[tuple[str, bytes]]) -> None:
    book = ledger()
    book.owe(0, note_on(0, 60, 64))
    book.owe(1, note_on(0, 61, 64))
    assert aftermath.release(SETUP, book, {"0": ["gone:in"]}, sleep=lambda _: None) == 0
    assert opened == []
    assert book.owed(0) == [(0, 60, 1)]
    assert book.owed(1) == [(0, 61, 1)]


def test_what_can_be_reached_is_released_beside_what_has_gone(opened: list[tuple[str, bytes]]) -> None:
    book = ledger()
    book.owe(0, note_on(0, 60, 64))
    book.owe(1, note_on(0, 61, 64))
    reached = {"0": ["gone:in"], "1": ["gone:in", "box:in"]}
    assert aftermath.release(SETUP, book, reached, sleep=lambda _: None) == 1
    assert [(to, data) for to, data in opened if data == note_off(0, 61)] == [("box:in", note_off(0, 61))] * 5
    assert book.owed(0) == [(0, 60, 1)]
    assert book.owed(1) == []


@pytest.mark.parametrize("odd", ["faulty:in", "odd:in"])
def test_a_driver_that_raises_keeps_no_other_port_from_its_offs(
    opened: list[tuple[str, bytes]], odd: str
) -> None:
    book = ledger()
    book.owe(0, note_on(0, 60, 64))
    book.owe(1, note_on(0, 61, 64))
    assert aftermath.release(SETUP, book, {"0": [odd], "1": ["box:in"]}, sleep=lambda _: None) == 1
    assert [to for to, data in opened if data == note_off(0, 61)] == ["box:in"] * 5
    assert book.owed(0) == [(0, 60, 1)]
    assert book.owed(1) == []


def test_nothing_owed_opens_nothing(opened: list[tuple[str, bytes]]) -> None:
    assert aftermath.release(SETUP, ledger(), {"0": ["synth:in"]}, sleep=pytest.fail) == 0
    assert opened == []


def test_a_synth_in_the_player_ended_with_it(opened: list[tuple[str, bytes]]) -> None:
    inside = PortSetup("in", "fluidsynth", to="")
    late = PortSetup("synth", "jack", to="syn", offset_ns=5)
    owed = Ledger.create(bytearray(Ledger.size(2)), 2)
    for port in (0, 1):
        owed.owe(port, note_on(0, 60, 80))
    setup = Setup(ports=(inside, late), routes=(), tunes=1)
    destinations = {"0": ["FluidSynth with a.sf2, through jack"], "1": ["synth:in"]}
    assert aftermath.release(setup, owed, destinations, sleep=lambda _: None) == 1
    assert {to for to, _ in opened} == {"synth:in"}
