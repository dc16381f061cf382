"""What the foot can do, in words: from the table, as far as the tunes at hand can lead there."""

from __future__ import annotations

from dataclasses import replace

import pytest

from introit.cli.hints import FootLanguage
from introit.library.leading import BarBeat, Bars, Leading
from introit.library.model import Tune
from introit.live.events import Shown
from introit.live.setup import FootSwitch, KeyZone, PortSetup, Setup
from introit.live.states import TABLE, Action, Order, State
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

SETUP = Setup(ports=(PortSetup("synth", "memory", to=""),), routes=(), tunes=1, key_zone=KeyZone())
NO_ZONE = replace(SETUP, key_zone=None)


def tune(*, count_off: int = 0, **leading: object) -> Tune:
    return Tune(
        id="t",
        title="T",
        key=Key.from_text("C"),
        meter=Meter.from_text("4/4"),
        tempo=120,
        feel="medium-swing",
        first_chord=Numeral.from_text("I"),
        count_off=count_off,
        leading=Leading(**leading),  # type: ignore[arg-type]
    )


def now(state: State, *tunes: Tune, number: int = 0, setup: Setup = NO_ZONE) -> str:
    language = FootLanguage(setup, (lambda: tunes) if tunes else None)
    return language.now(Shown(0, state.value, "state", tune=number))


def states(*tunes: Tune) -> list[str]:
    """The states that are told of, in the table's first column."""
    _, *rows, _ = FootLanguage(NO_ZONE, lambda: tunes).lines()
    return [row[:14].rstrip() for row in rows]


def test_hints_come_from_the_table() -> None:
    assert now(State.READY, setup=SETUP) == "press: start; key note: re-key"
    assert now(State.COUNTING_OFF) == "press: cancel"
    assert now(State.PLAYING) == "press: once more; double press: finish early; hold: silence"
    assert now(State.IN_THE_TUNE) == "double press: same tune; hold: next tune"


@pytest.mark.parametrize("switch", [FootSwitch(action="latching"), FootSwitch(message="program", number=3)])
def test_a_switch_that_cannot_be_held_is_told_its_double_press(switch: FootSwitch) -> None:
    setup = replace(NO_ZONE, foot_switch=switch)
    assert now(State.READY, setup=setup) == "press: start"
    assert now(State.PLAYING, setup=setup) == "press: once more; double press: silence"
    assert now(State.IN_THE_TUNE, setup=setup) == "double press: next tune"
    head, *rows = FootLanguage(setup).lines()
    assert head.split() == ["foot", "press", "double", "press"]
    assert any(row.startswith("in the tune") and row.endswith("next tune") for row in rows)


def test_what_a_tune_does_not_allow_is_not_told() -> None:
    plain, more, vamp = tune(), tune(once_more=True), tune(vamp=True)
    assert now(State.PLAYING, plain) == "hold: silence"
    assert now(State.PLAYING, plain, more, number=1).startswith(
        "press: once more; double press: finish early"
    )
    assert now(State.PLAYING, vamp) == "double press: finish early; hold: silence"


def test_ready_tells_how_the_intro_will_be_led() -> None:
    tapped = tune(tapped=True, vamp=True)
    assert now(State.READY, tapped) == "press: first tap; it goes round until the nod"
    assert now(State.READY, tune(hold=True)) == "press: start; the last dominant waits"
    bars = tune(vamp=True, vamp_bars=Bars(1, 2))
    assert now(State.READY, bars) == "press: start; bars 1-2 go round until the nod"
    assert now(State.READY, tune(vamp=True, vamp_bars=Bars(2, 2))).endswith("bar 2 goes round until the nod")
    held = tune(hold=True, held=BarBeat(3, 2))
    assert now(State.READY, held) == "press: start; the chord in bar 3 beat 2 waits"
    free = "press: start; out of time, a chord a press"
    assert now(State.READY, tune(colla_voce=64)) == free
    assert now(State.READY, tune(colla_voce=64, in_time=BarBeat(3))) == f"{free} until bar 3"


def test_a_bar_that_is_tapped_after_a_wait_is_told() -> None:
    tapped_on = tune(hold=True, tapped_on=True)
    assert now(State.WAITING, tapped_on) == "press: first tap"
    assert now(State.WAITING, tune(hold=True)) == "press: go on"
    assert states(tapped_on) == ["ready", "tapping", "playing", "waiting", "in the tune"]


def test_only_what_the_tunes_can_reach_is_in_the_table() -> None:
    assert states(tune()) == ["ready", "playing", "in the tune"]
    assert states(tune(count_off=1), tune(vamp=True)) == [
        "ready", "counting off", "playing", "vamping", "in the tune"
    ]  # fmt: skip
    assert states(tune(tapped=True, hold=True), tune(colla_voce=2)) == [
        "ready", "tapping", "playing", "out of time", "waiting", "in the tune"
    ]  # fmt: skip


def test_the_table_holds_all_that_does_something_and_fits_eighty_columns() -> None:
    lines = FootLanguage(SETUP, orders=[Order.SOUND_CHECK]).lines()
    assert max(map(len, lines)) < 80
    assert lines[0].split() == ["foot", "press", "double", "press", "hold", "key", "note"]
    by_state = {line[:14].rstrip(): line[14:] for line in lines[1:-1]}
    for row in TABLE:
        if row.state in (State.PRACTISING, State.RESTING):
            assert row.state not in by_state  # the practice room tells what a press does there
        elif row.action not in (Action.NONE, Action.GO_ON, Action.TAP):
            assert row.action.value in by_state[row.state]


def test_a_key_note_while_it_plays_is_told_with_when_it_acts() -> None:
    plain = tune()
    zoned = FootLanguage(SETUP, lambda: [plain])
    assert zoned.now(Shown(0, State.PLAYING.value, "state")) == (
        "hold: silence; key note: re-key at the next bar line"
    )
    assert [line.split() for line in zoned.lines()[1:3]] == [
        ["ready", "start", "re-key"], ["playing", "silence", "re-key"]
    ]  # fmt: skip
    assert "the key changes at a bar line" in zoned.lines()[-1]


def test_a_sound_check_is_told_where_it_can_be_ordered() -> None:
    plain = tune()
    language = FootLanguage(NO_ZONE, lambda: [plain], orders=[Order.SOUND_CHECK])
    assert language.now(Shown(0, State.SOUND_CHECK.value, "state")) == "press: end the check"
    assert any(line.split() == ["sound", "check", "end", "the", "check"] for line in language.lines())
    assert "sound check (press: end the check)" in language.line()
    assert "sound check" not in FootLanguage(NO_ZONE, lambda: [plain]).line()


def test_in_one_line_where_there_is_no_terminal() -> None:
    line = FootLanguage(NO_ZONE, lambda: [tune(vamp=True), tune(tapped=True, vamp=True)]).line()
    assert line == (
        "foot: ready (press: start or first tap), tapping (press: next tap), "
        "playing (double press: finish early; hold: silence), vamping (press: nod; hold: silence), "
        "in the tune (double press: same tune; hold: next tune)"
    )


def test_a_rig_without_a_foot_switch_says_so() -> None:
    setup = replace(NO_ZONE, foot_switch=None)
    assert FootLanguage(setup).lines() == ["foot: the rig has no foot-switch"]
    assert now(State.PLAYING, setup=setup) == ""


def test_a_tune_that_was_taken_out_of_the_set_leads_nowhere() -> None:
    language = FootLanguage(NO_ZONE, lambda: [tune(), None])
    assert language.now(Shown(0, "ready", "state", tune=1)) == "press: start"
    assert language.now(Shown(0, "elsewhere", "state")) == ""


def test_in_a_lesson_the_foot_steps() -> None:
    shown = Shown(0, "ready", "step", step=0)
    expected = "press: next chord; double press: chord before"
    assert FootLanguage(NO_ZONE).now(shown) == f"{expected}; hold: chord before"
    latching = replace(NO_ZONE, foot_switch=FootSwitch(action="latching"))
    assert FootLanguage(latching).now(shown) == expected
    assert FootLanguage(replace(NO_ZONE, foot_switch=None)).now(shown) == ""
