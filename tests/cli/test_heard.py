"""What a rig that names no synth plays into, by what there is on the machine."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from introit.cli import wiring
from introit.cli.heard import INSIDE_SAYS, heard_rig
from introit.cli.wiring import Systems, setup_for, system_there_is
from introit.errors import PortError
from introit.library.model import Library
from introit.library.stage import Rig, RigClock, RigControl, RigLamp
from introit.live.ports.finder import Listing

NO_LIBRARY = "no FluidSynth library on this system (on Debian and Ubuntu `apt install libfluidsynth3`)"
THROUGH = "Midi Through:Midi Through Port-0 14:0"


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Systems]:
    """A machine on which these systems answer, each with these destinations."""

    def make(**destinations: tuple[str, ...]) -> Systems:
        def look(system: str) -> Listing:
            if system in destinations:
                return Listing(system, destinations=destinations[system])
            return Listing(system, reason="no server")

        monkeypatch.setattr(wiring, "look", look)
        return system_there_is()

    return make


@pytest.fixture
def rig(library: Library) -> Rig:
    return library.rigs["default"]


def never() -> str:
    raise AssertionError("the synth inside was asked")


@pytest.mark.parametrize(
    ("there", "system"),
    [
        ({"jack": ("synth:in",), "rtmidi": ("Piano",)}, "jack"),
        ({"jack": (), "rtmidi": ("Piano",)}, "rtmidi"),
        ({"rtmidi": (THROUGH, "Piano")}, "rtmidi"),
    ],
)
def test_a_synth_that_is_connected_is_played(
    machine: Any, rig: Rig, there: dict[str, tuple[str, ...]], system: str
) -> None:
    heard, remark = heard_rig(rig, machine(**there), never)
    assert heard.ports == (replace(rig.ports[0], system=system),)
    assert remark == ""


@pytest.mark.parametrize(
    "there", [{}, {"rtmidi": ()}, {"jack": (), "rtmidi": (THROUGH,)}, {"jack": ("introit demo:in",)}]
)
def test_else_the_one_inside_plays_and_a_line_says_so(
    machine: Any, rig: Rig, there: dict[str, tuple[str, ...]]
) -> None:
    systems = machine(**there)
    heard, remark = heard_rig(rig, systems, lambda: "")
    assert remark == INSIDE_SAYS
    assert heard.ports[0].system == "fluidsynth"
    setup = setup_for(heard, tunes=1, log=False, choose_system=systems)
    assert [port.system for port in setup.ports] == ["fluidsynth", *list(there)[:1]]
    assert {route.port for route in setup.routes} == {0}
    assert setup.ports[0].gain == pytest.approx(0.2)


def test_a_foot_on_that_port_is_heard_on_one_beside_it(machine: Any, rig: Rig) -> None:
    assert rig.foot_switch
    wired = replace(
        rig,
        foot_switch=replace(rig.foot_switch, port="main"),
        controls=(RigControl("next", "main", number=65),),
        clock=RigClock(None, follow="main"),
    )
    heard = heard_rig(wired, machine(rtmidi=()), lambda: "").rig
    assert [(port.name, port.to, port.source) for port in heard.ports] == [
        ("main", "", None),
        ("main in", None, ""),
    ]
    assert heard.foot_switch
    assert (heard.foot_switch.port, heard.controls[0].port) == ("main in", "main in")
    assert heard.clock == RigClock(None, follow="main in")
    deaf = heard_rig(wired, machine(), lambda: "").rig
    assert len(deaf.ports) == 1
    assert deaf.foot_switch
    assert (deaf.foot_switch.port, deaf.controls[0].port, deaf.clock) == (None, None, None)


def test_a_rig_that_names_what_it_plays_is_left_alone(machine: Any, rig: Rig) -> None:
    main = rig.ports[0]
    lamp = RigLamp("ready", "main", "control", 20, 1, 127, 0)
    for other in (
        replace(rig, ports=(replace(main, to="Sound Module"),)),
        replace(rig, ports=(replace(main, system="rtmidi"),)),
        replace(rig, ports=(replace(main, virtual=True),)),
        replace(rig, lamps=(lamp,)),
    ):
        assert heard_rig(other, machine(), never) == (other, "")


def test_with_no_synth_at_all_one_line_says_what_to_install(machine: Any, rig: Rig) -> None:
    with pytest.raises(PortError, match=r"no synth is connected \(jack: no server; .*apt install") as told:
        heard_rig(rig, machine(), lambda: NO_LIBRARY)
    assert "\n" not in str(told.value)
    waiting, remark = heard_rig(rig, machine(rtmidi=()), lambda: NO_LIBRARY)
    assert waiting == rig, "one that is switched on later is still found"
    assert "apt install libfluidsynth3" in remark


def test_the_demo_goes_on_unheard(machine: Any, rig: Rig) -> None:
    for there in ({}, {"rtmidi": ()}):
        unheard, remark = heard_rig(rig, machine(**there), lambda: NO_LIBRARY, or_unheard=True)
        assert [port.system for port in unheard.ports] == ["memory"]
        assert remark.startswith("nothing will be heard: ")
        assert "apt install libfluidsynth3" in remark
        assert "\n" not in remark
