"""What the player sees, as text."""

from __future__ import annotations

import errno
import io
from dataclasses import replace

import pytest

from introit.cli.hints import FootLanguage
from introit.cli.screen import Screen
from introit.live.events import Shown
from introit.live.setup import KeyZone, PortSetup, Setup
from introit.live.states import State

SETUP = Setup(ports=(PortSetup("synth", "memory", to=""),), routes=(), tunes=1, key_zone=KeyZone())
REKEY = "key note: re-key at the next bar line"
READY = Shown(
    0,
    "ready",
    "key",
    title="Two Left Umbrellas",
    intro="three-six-two-five",
    key="Eb",
    tempo=132.0,
)


def beats(bar: int, symbols: list[str], head: int = 8) -> list[Shown]:
    return [
        Shown(
            0, "playing", "beat", bar=bar, beat=number + 1, symbol=symbol, numeral=symbol, beats_to_head=head
        )
        for number, symbol in enumerate(symbols)
    ]


def written(*shown: Shown, live: bool = False, notes: str = "") -> list[str]:
    output = io.StringIO()
    screen = Screen(output, live=live, hints=FootLanguage(SETUP).now, notes=lambda _: notes)
    for one in shown:
        screen.show(one)
    screen.say("done")
    return output.getvalue().splitlines()


def test_ready_names_tune_key_tempo_intro_and_what_a_press_does() -> None:
    named, does = (
        "ready: Two Left Umbrellas, Eb, 132, intro three-six-two-five",
        "press: start; key note: re-key",
    )
    assert written(READY, live=True)[:2] == [named, f"       {does}"]
    assert written(READY)[0] == f"{named} ({does})"


def test_ready_is_told_once_where_nothing_changed() -> None:
    once = written(READY)
    assert written(READY, replace(READY, what="state")) == once
    assert len(written(READY, replace(READY, key="F"))) == len(once) + 1


NOTES = "Watch the bridge.\n\x1b[2JSecond time softer.\x07"


def test_notes_to_oneself_are_one_line_when_the_tune_becomes_ready() -> None:
    on_a_terminal = written(READY, live=True, notes=NOTES)
    assert on_a_terminal[1] == "       notes: Watch the bridge. [2JSecond time softer."
    assert on_a_terminal[2] == "       press: start; key note: re-key"
    (line, _) = written(READY, notes=NOTES)
    assert line.endswith("(press: start; key note: re-key) - notes: Watch the bridge. [2JSecond time softer.")
    assert len(written(READY, live=True, notes="a long story " * 20)[1]) < 80


def test_notes_are_told_once_until_something_has_been_played() -> None:
    faster, other = replace(READY, tempo=134.0), replace(READY, tune=1, title="Another")
    (beat, *_) = beats(1, ["Gm11"])
    checked = replace(beat, state="sound check")
    lines = written(READY, faster, checked, READY, other, beat, other, notes=NOTES)
    assert ["notes: " in line for line in lines if line.startswith("ready")] == [
        True,
        False,
        False,
        True,
        True,
    ]


def test_notes_alone_are_a_reason_to_tell_that_a_tune_is_ready() -> None:
    """The same title, key and tempo twice running in a set, with other notes."""
    again = replace(READY, tune=1)
    assert len(written(READY, again, notes=NOTES)) == 3
    assert len(written(READY, again)) == 2


@pytest.mark.parametrize("live", [True, False])
def test_another_key_while_it_plays_is_told_by_the_note_alone(live: bool) -> None:
    note = Shown(0, "vamping", "note", key="F", text="in F from the next bar")
    key = replace(READY, state="vamping", key="F")
    assert written(note, key, live=live) == ["in F from the next bar", "done"]


def test_another_key_that_no_note_tells_is_told() -> None:
    key = replace(READY, state="tapping", key="F")
    assert written(key) == ["tapping: F, 132, intro three-six-two-five", "done"]
    (beat, *_) = beats(1, ["Gm11"])
    note = Shown(0, "vamping", "note", text="comp muted")
    assert written(note, beat, key)[2] == "tapping: F, 132, intro three-six-two-five"


def test_a_sound_check_counts_no_bars_to_a_head() -> None:
    checked = [replace(beat, state="sound check") for beat in beats(3, ["bass"] * 4, 36)]
    assert written(Shown(0, "sound check", "state"), *checked) == [
        "sound check (press: end the check)",
        "  sounds  bass       .          .          .",
        "done",
    ]


@pytest.mark.parametrize("live", [True, False])
def test_a_bar_is_a_line_and_a_chord_is_named_once(live: bool) -> None:
    lines = written(*beats(1, ["Gm11", "Gm11", "C7", "C7"]), *beats(2, ["C7", "C7", "C7", "C7"]), live=live)
    assert [line.split() for line in lines[:2]] == [
        ["bar", "1", "head", "in", "8", "Gm11", ".", "C7", "."],
        ["bar", "2", "head", "in", "8", "C7", ".", ".", "."],
    ]


def test_a_vamp_has_no_head_in_sight() -> None:
    """Nobody knows how many rounds there will be."""
    going_round = [replace(beat, state="vamping") for beat in beats(1, ["Gm11", "Gm11", "C7", "C7"])]
    assert written(*going_round)[0].split() == ["bar", "1", "Gm11", ".", "C7", "."]


def test_no_line_on_a_terminal_is_wider_than_eighty_columns() -> None:
    lines = written(
        *beats(1, ["Ebmaj13(#11)/Bb", "Abm9", "Db13(b9)", "Gbmaj13(#11)", "F#m11"], 120), live=True
    )
    lines += written(
        replace(READY, title="The Evening at the Harbour That Went On Until Nobody Could Say Its Name"),
        live=True,
    )
    lines += written(*(Shown(0, state, "state", text="and so on " * 9) for state in State), live=True)
    for what in ("note", "refused", "port"):
        lines += written(
            Shown(0, "ready", what, text="it cannot be played, for one reason or another " * 3), live=True
        )
    assert max(map(len, lines)) < 80


def test_chords_with_long_names_keep_apart() -> None:
    assert written(*beats(1, ["Ebmaj13(#11)/Bb", "Abm9"]))[0].split()[-2:] == ["Ebmaj13(#11)/Bb", "Abm9"]


def test_what_is_no_terminal_gets_one_line_a_thing() -> None:
    told = Shown(0, "vamping", "state", text="and so on " * 9)
    assert written(told)[:2] == [f"vamping (press: nod; hold: silence; {REKEY}) - {told.text}", "done"]


def test_what_the_hint_says_is_not_said_again() -> None:
    told = Shown(0, "playing", "state", text="press: once more; double press: finish early")
    assert written(told)[0] == (
        f"playing (press: once more; double press: finish early; hold: silence; {REKEY})"
    )


def test_a_note_that_was_just_told_is_not_told_again() -> None:
    tapped = Shown(0, "tapping", "note", text="tapped: 203 a minute")
    beat, *_ = beats(1, ["Gm11"])
    assert written(tapped, tapped, beat, tapped)[0::2] == [tapped.text, tapped.text]


def test_a_bar_that_was_interrupted_goes_on_in_its_place() -> None:
    first, second, third, fourth = beats(2, ["Fm9", "Fm9", "Bb13", "Bb13"])
    note = Shown(0, "playing", "port", text="synth: back")
    lines = written(first, second, note, third, fourth)
    assert lines[1] == "synth: back"
    assert lines[2].index("Bb13") == len("  bar 2  head in 8   ") + 2 * 11


class Full(io.StringIO):
    """A terminal behind which the disk is full."""

    def write(self, text: str) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")


def test_a_full_disk_ends_the_words_and_nothing_else() -> None:
    screen = Screen(Full(), live=False, hints=lambda _: "")
    screen.show(READY)
    screen.say("still here")


def test_skipped_cycles_are_counted_and_told_at_the_end() -> None:
    output = io.StringIO()
    screen = Screen(output, live=False, hints=lambda _: "")
    for _ in range(3):
        screen.show(Shown(0, "playing", "lost", text="synth: the system skipped a cycle"))
    assert output.getvalue() == ""
    screen.summary()
    assert "skipped a cycle 3 times" in output.getvalue()


def test_control_characters_never_reach_the_terminal() -> None:
    steered = replace(READY, title="a\x1b[2Jb\nc")
    assert "\x1b" not in "".join(written(steered))
    assert written(steered)[0].startswith("ready: a[2Jbc, Eb")
