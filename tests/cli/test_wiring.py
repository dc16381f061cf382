"""What a rig says, as the player is told it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from introit.cli import wiring
from introit.cli.wiring import setup_for, system_there_is
from introit.errors import PortError
from introit.library.stage import Rig, RigCeiling, RigClock, RigControl, RigLamp, RigPart, RigPort
from introit.live.ports.finder import Listing
from introit.live.setup import ClockLead, Control, Lamp, Setup
from introit.units import NS_PER_MS

RIG = Rig(
    id="two-ports",
    name="Two ports",
    ports=tuple(RigPort(name, "memory", "", "", virtual=False) for name in ("synth", "drums")),
    parts=(RigPart("comp", "synth", 2, None, None, muted=False),),
    foot_switch=None,
    key_zone=None,
    active_sensing=True,
)


def setup(rig: Rig) -> Setup:
    return setup_for(rig, tunes=1, log=False, choose_system=lambda _: "memory")


def test_a_clock_goes_out_on_the_port_of_its_name() -> None:
    assert setup(RIG).lead is None
    led = setup(replace(RIG, clock=RigClock("drums", "head")))
    assert led.lead == ClockLead(1, "head")
    assert Setup.from_json(led.to_json()) == led
    assert Setup.from_json(setup(RIG).to_json()) == setup(RIG)


def test_what_goes_to_a_port_that_is_reset_is_set_back_and_nothing_else() -> None:
    click = RigPart("click", "drums", 10, None, None, muted=False)
    ports = tuple(replace(port, reset=port.name == "drums") for port in RIG.ports)
    routes = setup(replace(RIG, ports=ports, parts=(*RIG.parts, click))).routes
    assert [(route.port, route.reset) for route in routes] == [(0, False), (1, True)]


def test_lamps_go_out_on_the_port_of_their_name_as_the_wire_counts() -> None:
    lit = RigLamp("playing", "drums", "note", 36, channel=16, on=5, off=1)
    program = RigLamp("ready", "synth", "program", 4, channel=9, on=4, off=None)
    lamps = setup(replace(RIG, lamps=(lit, program)))
    assert lamps.lamps == (
        Lamp("playing", 1, "note", 36, channel=15, on=5, off=1),
        Lamp("ready", 0, "program", 4, channel=8, on=4, off=None),
    )
    assert Setup.from_json(lamps.to_json()) == lamps


def test_controls_as_the_wire_counts() -> None:
    controls = setup(
        replace(
            RIG,
            controls=(
                RigControl("next", "drums", "program", 0, channel=16),
                RigControl("tune", message="note", number=60, tune=1, action="latching", on_at=9, off_at=3),
                RigControl("mute", number=65, part="bass", muted=True),
                RigControl("mute", number=66, part="melody", muted=False),
                RigControl("level", number=11, part="comp", inverted=True, low=4, high=120),
            ),
        )
    )
    assert controls.controls == (
        Control("next", 1, "program", 0, channel=15),
        Control("tune", None, "note", 60, value=0, action="latching", on_at=9, off_at=3),
        Control("mute", number=65, part=2, value=1),
        Control("mute", number=66, part=0, value=0),
        Control("level", number=11, part=1, inverted=True, low=4, high=120),
    )
    assert Setup.from_json(controls.to_json()) == controls


def test_a_clock_that_is_followed_is_heard_on_its_port_and_no_other() -> None:
    following = setup(replace(RIG, clock=RigClock(None, follow="drums")))
    assert (following.lead, following.follow) == (None, 1)
    assert [port.timing for port in following.ports] == [False, True]
    assert Setup.from_json(following.to_json()) == following


def test_a_port_is_lined_up_and_a_synth_inside_is_as_the_rig_has_it() -> None:
    inside = RigPort(
        "drums", "memory", "", None, False, offset_ms=-30, soundfont="/a.sf2", gain=0.4, audio="jack"
    )
    told = setup(replace(RIG, ports=(RIG.ports[0], inside)))
    assert told.ports[0].offset_ns == 0
    assert (told.ports[1].offset_ns, told.ports[1].soundfont) == (-30 * NS_PER_MS, "/a.sf2")
    assert (told.ports[1].gain, told.ports[1].audio) == (0.4, "jack")
    assert Setup.from_json(told.to_json()) == told


def test_a_synth_inside_is_taken_without_asking_any_system(monkeypatch: pytest.MonkeyPatch) -> None:
    def nobody(system: str) -> Listing:
        raise AssertionError(f"{system} was asked")

    monkeypatch.setattr(wiring, "look", nobody)
    assert system_there_is()("fluidsynth") == "fluidsynth"


def test_auto_asks_neither_the_kernels_sequencer_nor_a_synth_inside(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def silent(system: str) -> Listing:
        asked.append(system)
        return Listing(system, reason="no")

    monkeypatch.setattr(wiring, "look", silent)
    with pytest.raises(PortError):
        system_there_is()("auto")
    assert asked == ["jack", "rtmidi"]


def test_the_lowest_ceiling_of_part_port_and_rig_counts_and_a_level_is_told_under_one() -> None:
    ports = (RIG.ports[0], replace(RIG.ports[1], ceiling=RigCeiling(velocity=60)))
    parts = (
        *RIG.parts,
        RigPart("click", "drums", 10, None, None, muted=False, ceiling=RigCeiling(90, 50)),
        RigPart("ride", "drums", 9, None, 80, muted=False),
    )
    made = setup(replace(RIG, ports=ports, parts=parts, ceiling=RigCeiling(level=70)))
    assert [(r.velocity_at_most, r.level_at_most, r.level) for r in made.routes] == [
        (127, 70, 100),
        (60, 50, 100),
        (60, 70, 80),
    ]
    assert setup(RIG).routes[0].level is None
    assert Setup.from_json(made.to_json()) == made


def test_a_gentle_start_is_what_the_rig_says() -> None:
    assert setup(RIG).gentle_start
    assert not setup(replace(RIG, gentle_start=False)).gentle_start
