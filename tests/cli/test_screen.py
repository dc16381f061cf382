"""What the player sees, as text."""

from __future__ import annotations

import errno
import io
from dataclasses import replace

import pytest

from introit.cli.hints import hints
from introit.cli.screen import Screen
from introit.live.events import Shown
from introit.live.setup import FootSwitch, KeyZone, PortSetup, Setup

SETUP = Setup(ports=(PortSetup("synth", "memory", to=""),), routes=(), tunes=1, key_zone=KeyZone())
READY = Shown(
    0,
    "ready",
    "key",
    title="Two Left Umbrellas",
    intro="three-six-two-five",
    key="Eb",
    tempo=132.0,
)


def beats(bar: int, symbols: list[str], head: int = 0) -> list[Shown]:
    return [
        Shown(
            0, "playing", "beat", bar=bar, beat=number + 1, symbol=symbol, numeral=symbol, beats_to_head=head
        )
        for number, symbol in enumerate(symbols)
    ]


def written(*shown: Shown, live: bool = False) -> list[str]:
    output = io.StringIO()
    screen = Screen(output, live=live, hints=hints(SETUP))
    for one in shown:
        screen.show(one)
    screen.say("done")
    return output.getvalue().splitlines()


def test_hints_come_from_the_table() -> None:
    told = hints(SETUP)
    assert told["ready"] == "press: start, key note: re-key"
    assert told["counting off"] == "press: cancel"
    assert told["playing"] == "hold: silence"
    assert told["in the tune"] == "double press: same tune, hold: next tune"


@pytest.mark.parametrize("switch", [FootSwitch(action="latching"), FootSwitch(message="program", number=3)])
def test_a_switch_that_cannot_be_held_is_told_its_double_press(switch: FootSwitch) -> None:
    told = hints(replace(SETUP, foot_switch=switch, key_zone=None))
    assert told["ready"] == "press: start"
    assert told["playing"] == "double press: silence"
    assert told["in the tune"] == "double press: next tune"


def test_ready_names_tune_key_tempo_intro_and_what_a_press_does() -> None:
    assert written(READY)[:2] == [
        "ready: Two Left Umbrellas, Eb, 132, intro three-six-two-five",
        "       press: start, key note: re-key",
    ]


def test_ready_is_told_once_where_nothing_changed() -> None:
    once = written(READY)
    assert written(READY, replace(READY, what="state")) == once
    assert len(written(READY, replace(READY, key="F"))) == len(once) + 2


@pytest.mark.parametrize("live", [True, False])
def test_a_bar_is_a_line_and_a_chord_is_named_once(live: bool) -> None:
    lines = written(*beats(1, ["Gm11", "Gm11", "C7", "C7"]), *beats(2, ["C7", "C7", "C7", "C7"]), live=live)
    assert [line.split() for line in lines[:2]] == [
        ["bar", "1", "Gm11", ".", "C7", "."],
        ["bar", "2", "C7", ".", ".", "."],
    ]


def test_no_line_is_wider_than_eighty_columns() -> None:
    lines = written(*beats(1, ["Ebmaj13(#11)/Bb", "Abm9", "Db13(b9)", "Gbmaj13(#11)", "F#m11"]))
    lines += written(
        replace(READY, title="The Evening at the Harbour That Went On Until Nobody Could Say Its Name")
    )
    lines += written(*(Shown(0, state, "state") for state in hints(SETUP)))
    assert max(map(len, lines)) < 80


def test_a_bar_that_was_interrupted_goes_on_in_its_place() -> None:
    first, second, third, fourth = beats(2, ["Fm9", "Fm9", "Bb13", "Bb13"])
    note = Shown(0, "playing", "port", text="synth: back")
    lines = written(first, second, note, third, fourth)
    assert lines[1] == "synth: back"
    assert lines[2].index("Bb13") == len("  bar 2  ") + 2 * 12


class Full(io.StringIO):
    """A terminal behind which the disk is full."""

    def write(self, text: str) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")


def test_a_full_disk_ends_the_words_and_nothing_else() -> None:
    screen = Screen(Full(), live=False, hints={})
    screen.show(READY)
    screen.say("still here")


def test_skipped_cycles_are_counted_and_told_at_the_end() -> None:
    output = io.StringIO()
    screen = Screen(output, live=False, hints={})
    for _ in range(3):
        screen.show(Shown(0, "playing", "lost", text="synth: the system skipped a cycle"))
    assert output.getvalue() == ""
    screen.summary()
    assert "skipped a cycle 3 times" in output.getvalue()


def test_control_characters_never_reach_the_terminal() -> None:
    steered = replace(READY, title="a\x1b[2Jb\nc")
    assert "\x1b" not in "".join(written(steered))
    assert written(steered)[0].startswith("ready: a[2Jbc, Eb")
