"""`introit ports`, and what a rig is written, where two devices have one name. The driver is not real."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest
from click.testing import CliRunner

from introit.cli.binding import port_for
from introit.cli.commands.ports import ports
from introit.cli.content import open_library
from introit.cli.listening import Device, devices
from introit.live.ports import jack, opener
from introit.live.ports.finder import Listing, find
from introit.live.ports.immediate import Driver

SOURCES = ["Board:Board MIDI 1 20:0", "Keys:Keys 24:0", "Board:Board MIDI 1 28:0"]


class Looking:
    """An end of the driver that lists and does no more."""

    def get_ports(self) -> list[str]:
        return list(SOURCES)

    def delete(self) -> None:
        pass


@pytest.fixture(autouse=True)
def _two_boards(monkeypatch: pytest.MonkeyPatch) -> None:
    def make_in(_name: str, _take: Callable[[Sequence[int]], None]) -> Looking:
        return Looking()

    monkeypatch.setattr(
        opener, "rtmidi_driver", lambda: Driver("fake", "alsa", True, lambda _: Looking(), make_in)
    )
    monkeypatch.setattr(jack, "list_ports", lambda: Listing("jack", reason="no JACK server answers"))


def test_both_are_listed_each_as_a_rig_may_write_it() -> None:
    printed = CliRunner().invoke(ports).output
    assert "  from  Board:Board MIDI 1\n  from  Keys:Keys\n  from  Board:Board MIDI 1 (2)\n" in printed
    listings = {one["system"]: one for one in json.loads(CliRunner().invoke(ports, ["--json"]).output)}
    assert list(listings) == ["jack", "rtmidi", "alsa", "fluidsynth"]
    assert all(one["reason"] or one["detail"] for one in listings.values())
    listing = listings["rtmidi"]
    assert listing["sources"] == ["Board:Board MIDI 1", "Keys:Keys", "Board:Board MIDI 1 (2)"]
    assert [find(name, SOURCES, role="source") for name in listing["sources"]] == SOURCES


def test_the_second_is_written_with_its_place() -> None:
    found = devices(opener.survey(), ["rtmidi"])
    second = found[2]
    assert second == Device("rtmidi", "Board:Board MIDI 1 (2)")
    rig = open_library().rigs["default"]
    others = [device for device in found if device != second]
    _, new = port_for(second, rig, others=others, system_of=lambda port: "jack")
    assert new == {"feet": {"system": "rtmidi", "from": "Board:Board MIDI 1 (2)"}}


def test_a_port_that_hears_the_first_does_not_hear_the_second() -> None:
    found = devices(opener.survey(), ["rtmidi"])
    rig = open_library().rigs["default"]
    for written, hears in (("Board (2)", True), ("board (1)", False), ("Board:Board MIDI 1", False)):
        (main,) = [port for port in rig.ports if port.source is not None]
        named = replace(rig, ports=(replace(main, source=written),))
        others = [device for device in found if device != found[2]]
        port, new = port_for(found[2], named, others=others, system_of=lambda port: "rtmidi")
        assert (port == main.name) is hears, written
        assert bool(new) is not hears
