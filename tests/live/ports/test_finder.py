"""Names to ports, and which system serves. No hardware: the names are given."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.errors import PortError
from introit.live.ports.finder import choose_system, find, matches, may_sound
from introit.live.ports.names import labels, of_driver, told_apart

NAMES = ["Harp:in 1", "Harp:in 2", "harp:IN 1b", "Organ Synth:midi", "Through Port-0"]


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("Harp:in 1", "Harp:in 1"),  # exact, though a part of another name
        ("HARP:IN 2", "Harp:in 2"),
        ("organ", "Organ Synth:midi"),
        ("synth:MIDI", "Organ Synth:midi"),
        ("", "Harp:in 1"),
    ],
)
def test_a_name_or_a_unique_part_is_found(wanted: str, found: str) -> None:
    assert find(wanted, NAMES, role="destination") == found


def test_of_whatever_there_is_the_kernels_through_port_comes_last() -> None:
    through = "Midi Through:Midi Through Port-0 14:0"
    assert find("", [through, "Piano 20:0"], role="destination") == "Piano 20:0"
    assert find("", [through], role="destination") == through
    assert find("through", [through, "Piano 20:0"], role="destination") == through
    assert [may_sound(name) for name in (through, "introit demo:in", "Piano 20:0")] == [False, False, True]


def test_an_ambiguous_part_lists_what_it_could_mean() -> None:
    with pytest.raises(
        PortError, match="more than one MIDI destination: 'Harp:in 1', 'Harp:in 2', 'harp:IN 1b'"
    ):
        find("harp", NAMES, role="destination")


def test_a_missing_name_lists_what_there_is_and_guesses() -> None:
    with pytest.raises(PortError) as caught:
        find("Organ Sinth:midi", NAMES, role="source", system="jack")
    text = str(caught.value)
    assert text.startswith("no jack MIDI source matches 'Organ Sinth:midi'; there are: 'Harp:in 1',")
    assert text.endswith("Did you mean 'Organ Synth:midi'?")


def test_no_ports_at_all_is_said() -> None:
    with pytest.raises(PortError, match="matches 'x'; there is none at all"):
        find("x", [], role="source")
    with pytest.raises(PortError, match="there is none at all"):
        find("", [], role="source")


@given(st.lists(st.text(min_size=1), min_size=1, unique=True), st.data())
def test_a_whole_name_always_finds_itself(names: list[str], data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(names))
    assert find(name, names, role="destination") == name


@given(st.text(), st.lists(st.text()))
def test_matches_are_among_the_names_and_unique(wanted: str, names: list[str]) -> None:
    found = matches(wanted, names)
    assert set(found) <= set(told_apart(names))
    assert len(found) == len(set(found))


TWINS = ["Board", "Synth", "Board"]
ALSA_TWINS = ["Board:Board MIDI 1 20:0", "Synth:Synth 24:0", "Board:Board MIDI 1 28:0"]


@pytest.mark.parametrize(
    ("wanted", "names", "found"),
    [
        ("Board", TWINS, "Board"),  # its name alone is the first
        ("Board (1)", TWINS, "Board"),
        ("Board (2)", TWINS, "Board (2)"),
        ("board (2)", TWINS, "Board (2)"),
        ("oar (2)", TWINS, "Board (2)"),
        ("Board (1)", ALSA_TWINS, "Board:Board MIDI 1 20:0"),
        ("Board (2)", ALSA_TWINS, "Board:Board MIDI 1 28:0"),
        ("Board:Board MIDI 1", ALSA_TWINS, "Board:Board MIDI 1 20:0"),  # as `introit ports` lists it
        ("Board:Board MIDI 1 (2)", ALSA_TWINS, "Board:Board MIDI 1 28:0"),
        ("MIDI 1 28:0", ALSA_TWINS, "Board:Board MIDI 1 28:0"),  # as the system calls it
        ("Board (2)", ["Board", "Board", "Board (2)"], "Board (2)"),  # a device that is really called so
        ("Board (3)", ["Board", "Board", "Board (2)"], "Board (3)"),
    ],
)
def test_two_devices_of_one_name_are_told_apart(wanted: str, names: list[str], found: str) -> None:
    assert find(wanted, names, role="source") == found


def test_a_part_of_one_name_for_two_is_answered_with_how_to_write_it() -> None:
    with pytest.raises(PortError) as caught:
        find("boar", TWINS, role="source")
    assert str(caught.value) == (
        "'boar' matches more than one MIDI source: 'Board', 'Board (2)'; these have one name: "
        "write 'boar (1)' or 'boar (2)', in the order in which 'introit ports' lists them."
    )
    with pytest.raises(
        PortError, match=r"'Board:Board MIDI 1', 'Board:Board MIDI 1 \(2\)'; these have one name"
    ):
        find("board", ALSA_TWINS, role="source")
    assert find("boar (2)", TWINS, role="source") == "Board (2)"  # what it says can be done


def test_a_place_that_nobody_has_is_answered_with_those_there_are() -> None:
    with pytest.raises(PortError, match=r"matches 'Board \(3\)'; there are: 'Board', 'Synth', 'Board \(2\)'"):
        find("Board (3)", TWINS, role="source")
    with pytest.raises(PortError, match="write more of the name"):
        find("b (1)", ["Board", "Bass box"], role="source")


@given(st.lists(st.text()))
def test_every_port_has_a_name_of_its_own_by_which_it_is_found(names: list[str]) -> None:
    apart = told_apart(names)
    assert len(set(apart)) == len(names)
    assert told_apart(apart) == apart
    assert [matches(name, names) for name in apart] == [[name] for name in apart]


def test_a_label_is_without_the_numbers_that_alsa_gives() -> None:
    # RtMidi on ALSA: "client name:port name client:port" (RtMidi.cpp, MidiInAlsa::getPortName; from memory).
    assert labels(ALSA_TWINS) == ["Board:Board MIDI 1", "Synth:Synth", "Board:Board MIDI 1 (2)"]


def test_the_index_that_rtmidi_writes_behind_a_name_on_windows_is_left_out() -> None:
    # "Default for Windows is to add an identifier to the port names" (RtMidi.cpp); what it is, from memory.
    assert of_driver(Ports("Board 0", "Synth 8 1", "Board 2"), "windows") == ["Board", "Synth 8", "Board (2)"]
    assert of_driver(Ports("Board 0", "Board 0"), "coremidi") == ["Board 0", "Board 0 (2)"]


class Ports:
    """An end of a driver that only lists."""

    def __init__(self, *names: str) -> None:
        self._names = names

    def get_ports(self) -> list[str]:
        return list(self._names)


def test_auto_prefers_jack_then_rtmidi() -> None:
    assert choose_system("auto", {"jack": "", "rtmidi": ""}) == "jack"
    assert choose_system("auto", {"jack": "no server", "rtmidi": ""}) == "rtmidi"


def test_auto_says_why_nothing_answers() -> None:
    with pytest.raises(
        PortError, match=r"no MIDI system answers \(jack: no server; rtmidi: no sequencer\)\."
    ) as caught:
        choose_system("auto", {"jack": "no server", "rtmidi": "no sequencer"})
    assert caught.value.exit_code == 1


def test_a_named_system_must_answer() -> None:
    assert choose_system("memory", {}) == "memory"
    assert choose_system("rtmidi", {"jack": "", "rtmidi": ""}) == "rtmidi"
    with pytest.raises(PortError, match="jack does not answer: no server"):
        choose_system("jack", {"jack": "no server"})


def test_an_unknown_system_is_guessed() -> None:
    with pytest.raises(
        PortError,
        match=r"'jak'; allowed is auto, jack, rtmidi, alsa, fluidsynth, memory\. Did you mean 'jack'\?",
    ):
        choose_system("jak", {})
