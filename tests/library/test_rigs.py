"""Rig files as they are read; numbers are counted as players count them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from introit.errors import Problem
from introit.library.model import Library
from introit.library.stage import Rig, RigCeiling, RigClock, RigFootSwitch, RigGuitar, RigKeyZone, RigPort
from introit.performance import PARTS

Read = Callable[[str, str], tuple[object | None, list[Problem]]]

RIG = (
    "name: x\nports:\n  main: {to: any, from: Keys}\n"
    "parts:\n  comp: {port: main, channel: 16, program: 128}\n"
)


def read_rig(read: Read, more: str = "") -> Rig:
    thing, problems = read("rig", RIG + more)
    assert problems == []
    assert isinstance(thing, Rig)
    return thing


def test_a_small_rig(read: Read) -> None:
    rig = read_rig(read)
    assert rig.ports == (RigPort(name="main", system="auto", to="", source="Keys", virtual=False),)
    assert [(part.part, part.channel, part.program, part.level, part.muted) for part in rig.parts] == [
        ("comp", 16, 128, None, False)
    ]
    assert (rig.foot_switch, rig.key_zone, rig.active_sensing) == (None, None, True)


def test_a_port_is_reset_only_where_the_rig_asks_and_only_where_it_sends(read: Read) -> None:
    assert not read_rig(read).ports[0].reset
    thing, problems = read("rig", RIG.replace("from: Keys", "reset: true"))
    assert problems == []
    assert isinstance(thing, Rig)
    assert thing.ports[0].reset
    thing, problems = read("rig", RIG.replace("parts:", "  floor: {from: any, reset: true}\nparts:"))
    assert thing is None
    assert [(problem.code, problem.line, problem.column) for problem in problems] == [("does-not-fit", 4, 22)]
    assert "port 'floor' only listens" in str(problems[0])


def test_a_synth_inside_needs_no_cable(read: Read) -> None:
    inside = "  in: {system: fluidsynth, soundfont: /s/a.sf2, gain: 0.5, audio: jack, offset_ms: -25}\nparts:"
    thing, problems = read("rig", RIG.replace("parts:", inside))
    assert problems == []
    assert isinstance(thing, Rig)
    assert thing.ports[1] == RigPort(
        "in", "fluidsynth", "", None, False, offset_ms=-25, soundfont="/s/a.sf2", gain=0.5, audio="jack"
    )


def test_a_soundfont_lies_beside_the_rig(read: Read) -> None:
    thing, _ = read("rig", RIG.replace("{to: any, from: Keys}", "{system: fluidsynth, soundfont: a.sf2}"))
    assert isinstance(thing, Rig)
    assert Path(thing.ports[0].soundfont).is_absolute()
    assert thing.ports[0].gain == 0.2  # a wrong program never means full blast
    thing, _ = read("rig", RIG.replace("{to: any, from: Keys}", "{system: fluidsynth, soundfont: ~/a.sf2}"))
    assert isinstance(thing, Rig)
    assert thing.ports[0].soundfont == "~/a.sf2"


@pytest.mark.parametrize(
    ("port", "code", "message"),
    [
        ("{system: fluidsynth, to: any}", "does-not-fit", "is a synth inside: it needs no `to:`"),
        ("{system: fluidsynth, from: any}", "does-not-fit", "is a synth inside: it needs no `from:`"),
        ("{system: fluidsynth, gain: 1.5}", "out-of-range", "1.5"),
        ("{to: any, gain: 0.5}", "does-not-fit", "`gain:` goes with `system: fluidsynth` alone"),
        ("{to: any, soundfont: x.sf2}", "does-not-fit", "`soundfont:` goes with `system: fluidsynth` alone"),
        ("{to: any, offset_ms: 501}", "out-of-range", "501"),
        ("{from: any, offset_ms: 5}", "does-not-fit", "nothing can go out earlier or later there"),
        ("{system: telegraph, to: any}", "not-allowed", "telegraph"),
    ],
)
def test_what_a_port_cannot_have(port: str, code: str, message: str, read: Read) -> None:
    thing, problems = read("rig", RIG.replace("{to: any, from: Keys}", port))
    assert thing is None
    assert [problem.code for problem in problems] == [code]
    assert message in str(problems[0])


def test_a_synth_inside_has_no_lamps(read: Read) -> None:
    rig = RIG.replace("{to: any, from: Keys}", "{system: fluidsynth}")
    lamps = "lamps:\n  - {when: ready, port: main, message: note, number: C2, channel: 3}\n"
    thing, problems = read("rig", rig + lamps)
    assert thing is None
    assert "it has no lamps, and would sound what lights them" in str(problems[0])


def test_a_foot_switch_left_to_its_defaults(read: Read) -> None:
    assert read_rig(read, "foot_switch: {port: main}\n").foot_switch == RigFootSwitch(
        port="main", message="control", number=64, channel=None, action="momentary",
        inverted=False, on_at=72, off_at=56,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("written", "number"),
    [
        ("number: any", None),
        ("number: 80", 80),
        ("message: note, number: C1", 24),
        ("message: note, number: 36", 36),
        ("message: note", None),
        ("message: program, number: 1", 0),  # programs are counted from 1 by players, from 0 on the wire
        ("message: program, number: 128", 127),
        ("message: program", None),
    ],
)
def test_foot_switch_numbers(written: str, number: int | None, read: Read) -> None:
    foot = read_rig(read, f"foot_switch: {{{written}}}\n").foot_switch
    assert foot is not None
    assert foot.number == number


def test_a_key_zone(read: Read) -> None:
    zone = read_rig(read, "key_zone: {low: C1, high: b2, channel: 3, minor: half}\n").key_zone
    assert zone == RigKeyZone(
        port=None, low=24, high=47, channel=3, minor="half", minor_from=36, window_ms=250, starts=False
    )


@pytest.mark.parametrize(
    ("name", "pitch"), [("C-1", 0), ("C4", 60), ("A4", 69), ("Bb3", 58), ("F#2", 42), ("G9", 127), ("0", 0)]
)
def test_notes_by_name(name: str, pitch: int, read: Read) -> None:
    """C4 = middle C = 60, A4 = 69 (scientific pitch; A4 is 69 in the MIDI tuning standard, from memory)."""
    zone = read_rig(read, f"key_zone: {{low: {name}, high: {name}}}\n").key_zone
    assert zone is not None
    assert (zone.low, zone.high) == (pitch, pitch)


def test_the_default_rig_has_all_parts_and_click_and_cue_are_off(library: Library) -> None:
    rig = library.rigs["default"]
    assert {part.part for part in rig.parts} == set(PARTS)
    assert {part.part for part in rig.parts if part.muted} == {"click", "cue"}
    assert rig.foot_switch is not None
    assert rig.foot_switch.number == 64  # damper, MIDI 1.0 controller list
    assert rig.key_zone is not None
    assert (rig.key_zone.low, rig.key_zone.high, rig.key_zone.minor) == (24, 47, "third")


def test_programs_are_general_midis(library: Library) -> None:
    """General MIDI 1 sound set, counted from 1: electric pianos 5 and 6, electric guitars 27 and 28, acoustic
    bass 33; percussion on channel 10 (koo.corpus.cam.ac.uk, thissideofsanity.com).
    """
    allowed = {"melody": {27, 28}, "comp": {5, 6, 27}, "bass": {33}, "pedal": {33}, "cue": {5}}
    for rig in library.rigs.values():
        for part in rig.parts:
            if part.part in allowed:
                assert part.program in allowed[part.part], (rig.id, part.part)
            else:
                assert (part.channel, part.program) == (10, None), (rig.id, part.part)


def test_one_of_the_examples_is_press_only_and_one_has_a_click_of_its_own(library: Library) -> None:
    foot = library.rigs["press-only-switch"].foot_switch
    assert foot is not None
    assert (foot.action, foot.message, foot.number) == ("press-only", "program", None)
    ports = {part.part: part.port for part in library.rigs["hardware-synth"].parts}
    assert ports["click"] not in {port for part, port in ports.items() if part not in {"click", "cue"}}


@pytest.mark.parametrize(
    ("parts", "sound"),
    [
        ("click: {port: main, channel: 10}", "two and four"),
        ("click: {port: main, channel: 10, sound: beats}", "beats"),
        ("click: {port: ear, channel: 10}", "beats"),
        ("click: {port: ear, channel: 10, sound: two and four}", "two and four"),
        ("click: {port: ear, channel: 10}\n  bass: {port: ear, channel: 3}", "two and four"),
        ("click: {port: ear, channel: 10}\n  bass: {port: ear, channel: 3, muted: true}", "beats"),
        ("bass: {port: main, channel: 3}", "beats"),  # there is none to hear
    ],
)
def test_the_click_has_every_beat_only_where_nobody_else_hears_it(parts: str, sound: str, read: Read) -> None:
    thing, problems = read("rig", RIG.replace("parts:\n", f"  ear: {{to: any}}\nparts:\n  {parts}\n"))
    assert problems == []
    assert isinstance(thing, Rig)
    assert thing.click_sound == sound


def test_the_cue_has_a_channel_of_its_own(read: Read) -> None:
    assert len(read_rig(read, "  cue: {port: main, channel: 5}\n").parts) == 2
    thing, problems = read("rig", RIG + "  cue: {port: main, channel: 16, program: 5}\n")
    assert thing is None
    assert [(problem.code, problem.line) for problem in problems] == [("does-not-fit", 4)]
    assert "channel 16 has 'comp'" in str(problems[0])


def test_the_cue_never_reaches_the_house_in_the_rigs_that_come_with_it(library: Library) -> None:
    for rig in library.rigs.values():
        for cue in (part for part in rig.parts if part.part == "cue"):
            heard = {part.part for part in rig.parts if part.port == cue.port and not part.muted}
            assert cue.muted or heard <= {"cue", "click"}, rig.id


@pytest.mark.parametrize(
    ("part", "code", "column", "text"),
    [
        ("click: {port: main, channel: 10, sound: snaps}", "not-allowed", 43, "beats, two and four"),
        ("bass: {port: main, channel: 3, sound: beats}", "unknown-key", 34, "'sound'"),
    ],
)
def test_a_sound_that_cannot_be(part: str, code: str, column: int, text: str, read: Read) -> None:
    thing, problems = read("rig", RIG + f"  {part}\n")
    assert thing is None
    assert [(problem.code, problem.line, problem.column) for problem in problems] == [(code, 6, column)]
    assert text in str(problems[0])


def test_in_the_rigs_that_come_with_it_no_click_reaches_the_house(library: Library) -> None:
    for rig in library.rigs.values():
        click = next(part for part in rig.parts if part.part == "click")
        shared = any(part.port == click.port for part in rig.parts if part.part not in {"click", "cue"})
        assert click.muted or not shared, rig.id
        assert rig.click_sound == ("two and four" if shared else "beats"), rig.id


def test_a_guitar_left_to_its_defaults_is_the_standard_one(read: Read) -> None:
    rig = read_rig(read, "line_up: with bass\nguitar: {plucking: pick}\n")
    assert rig.line_up == "with bass"
    assert rig.guitar == RigGuitar((40, 45, 50, 55, 59, 64), capo=0, highest_fret=20, plucking="pick")


@pytest.mark.parametrize("written", ["D2 A2 D3 G3 B3 E4", "[D2, A2, D3, G3, B3, E4]", "38 45 50 55 59 64"])
def test_a_tuning_is_written_in_a_line_or_as_a_list(written: str, read: Read) -> None:
    guitar = read_rig(read, f"guitar: {{tuning: {written}, capo: 2}}\n")
    assert guitar.guitar is not None
    assert guitar.guitar.tuning == (38, 45, 50, 55, 59, 64)
    assert guitar.guitar.capo == 2


@pytest.mark.parametrize(
    ("written", "code", "column", "text"),
    [
        ("tuning: D2 A2 D3 G3 B3 H4", "wrong-type", 33, "'H4' is no note"),
        ("tuning: D2 A2 D3", "does-not-fit", 9, "a tuning has six or seven strings, given are 3"),
        ("tuning: E4 B3 G3 D3 A2 E2", "does-not-fit", 9, "must be lower than string 5"),
        ("capo: 20", "does-not-fit", 9, "the capo is at fret 20"),
        ("capo: -1", "out-of-range", 16, "-1"),
        ("plucking: thumbs", "not-allowed", 20, "fingers"),
        ("tunning: E2", "unknown-key", 10, "tuning"),
    ],
)
def test_a_guitar_that_cannot_be(written: str, code: str, column: int, text: str, read: Read) -> None:
    thing, problems = read("rig", RIG + f"guitar: {{{written}}}\n")
    assert thing is None
    assert [(problem.code, problem.line, problem.column) for problem in problems] == [(code, 6, column)]
    assert text in str(problems[0])


def test_a_clock_leads_from_the_intro_unless_the_head_is_asked_for_or_follows(read: Read) -> None:
    assert read_rig(read).clock is None
    assert read_rig(read, "clock: {port: main}\n").clock == RigClock("main", "intro")
    assert read_rig(read, "clock: {port: main, start: head}\n").clock == RigClock("main", "head")
    assert read_rig(read, "clock: {follow: main}\n").clock == RigClock(None, "intro", "main")


@pytest.mark.parametrize(
    ("written", "code", "column", "text"),
    [
        ("clock: {start: head}", "missing-key", 8, "port"),
        ("clock: {port: main, follow: main}", "missing-key", 8, "not both"),
        ("clock: {follow: mian}", "not-there", 17, "main"),
        ("clock: {port: mian}", "not-there", 15, "main"),
        ("clock: {port: main, start: coda}", "not-allowed", 28, "intro, head"),
        ("clock: {port: main, begin: head}", "unknown-key", 21, "begin"),
        ("clock: main", "wrong-type", 8, "clock"),
    ],
)
def test_a_clock_that_cannot_be(written: str, code: str, column: int, text: str, read: Read) -> None:
    thing, problems = read("rig", RIG + written + "\n")
    assert thing is None
    assert [(problem.code, problem.line, problem.column) for problem in problems] == [(code, 6, column)]
    assert text in str(problems[0])


@pytest.mark.parametrize(
    ("port", "clock", "text"),
    [
        ("floor: {from: any}", "port: floor", "only listens"),
        ("floor: {to: any}", "follow: floor", "only sends"),
    ],
)
def test_a_clock_goes_only_where_its_port_does(port: str, clock: str, text: str, read: Read) -> None:
    rig = RIG.replace("parts:", f"  {port}\nparts:") + f"clock: {{{clock}}}\n"
    thing, problems = read("rig", rig)
    assert thing is None
    assert [(problem.code, problem.line, problem.column) for problem in problems] == [("does-not-fit", 7, 1)]
    assert f"'floor' {text}" in str(problems[0])


LOUD = (
    "name: x\nports:\n  main: {to: any}\n  ear: {to: Phones, §}\n"
    "parts:\n  comp: {port: main, channel: 1}\n  bass: {port: main, channel: 2}\n"
    "  ride: {port: main, channel: 10}\n  click: {port: ear, channel: 10}\n"
)


def test_a_ceiling_can_be_the_rigs_a_ports_and_a_parts(read: Read) -> None:
    text = LOUD.replace("§", "velocity_at_most: 60").replace(
        "bass: {", "bass: {velocity_at_most: 100, level_at_most: 90, "
    )
    rig, problems = read("rig", text + "level_at_most: 110\ngentle_start: false\n")
    assert problems == []
    assert isinstance(rig, Rig)
    assert rig.ceiling == RigCeiling(level=110)
    assert not rig.gentle_start
    assert [port.ceiling for port in rig.ports] == [RigCeiling(), RigCeiling(velocity=60)]
    assert [part.ceiling for part in rig.parts if part.part == "bass"] == [RigCeiling(100, 90)]


def test_without_a_word_there_is_no_ceiling_and_a_gentle_start(read: Read) -> None:
    rig, problems = read("rig", LOUD.replace(", §", ""))
    assert problems == []
    assert isinstance(rig, Rig)
    assert rig.ceiling == RigCeiling() == RigCeiling(127, 127)
    assert rig.gentle_start


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("velocity_at_most: 0", "1 to 127"),  # a note-on of velocity 0 is a note-off (MIDI 1.0)
        ("level_at_most: 128", "0 to 127"),
        ("velocity_at_mots: 90", "Did you mean 'velocity_at_most'?"),
    ],
)
def test_a_ceiling_that_cannot_be(written: str, says: str, read: Read) -> None:
    rig, problems = read("rig", LOUD.replace("§", written))
    assert rig is None
    assert [says in str(problem) for problem in problems] == [True]


def test_parts_on_one_channel_share_their_ceiling(read: Read) -> None:
    text = LOUD.replace(", §", "").replace("ride: {", "ride: {velocity_at_most: 80, ")
    rig, problems = read("rig", text.replace("{port: ear", "{port: main"))
    assert rig is None
    assert "'click' and 'ride' share channel 10 but not what they are at most" in str(
        problems[0]
    ) or "'ride' and 'click' share channel 10 but not what they are at most" in str(problems[0])
