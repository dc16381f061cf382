"""Names to ports, and which system serves. No hardware: the names are given."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.errors import PortError
from introit.live.ports.finder import choose_system, find, matches

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
    assert set(found) <= set(names)
    assert len(found) == len(set(found))


def test_twice_the_same_name_is_no_ambiguity() -> None:
    assert find("a", ["a b", "a b"], role="source") == "a b"


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
        PortError, match=r"'jak'; allowed is auto, jack, rtmidi, memory\. Did you mean 'jack'\?"
    ):
        choose_system("jak", {})
