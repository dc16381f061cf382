"""What lights when: only changes are told, offs first; nothing lit is left behind."""

from __future__ import annotations

from itertools import count

import pytest

from introit.library.rig_lamps import WHEN as WORDS_OF_A_RIG
from introit.live.cue import Rank
from introit.live.events import Hand
from introit.live.lamps import IN_THE_TUNE, LAST_BAR, PLAYING, READY, WHEN, Lamps, told_in
from introit.live.messages import control, program
from introit.live.setup import Lamp
from introit.live.states import State
from introit.testing import SketchFront, rehearse, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND


def pad(number: int, velocity: int) -> bytes:
    """A note-on as a pad takes it; velocity 0 is a note-off (MIDI 1.0)."""
    return bytes((0x90, number, velocity))


def made(*lamps: Lamp) -> Lamps:
    return Lamps(lamps, count().__next__)


def told(hands: list[Hand]) -> list[tuple[int, bytes]]:
    return [(hand.port, cue.data) for hand in hands for cue in hand.cues]


def test_a_rig_and_the_player_use_the_same_words() -> None:
    assert WORDS_OF_A_RIG == WHEN


@pytest.mark.parametrize("state", list(State))
def test_every_state_has_a_word_and_only_what_plays_has_a_last_bar(state: State) -> None:
    word = told_in(state)
    assert word in WHEN
    assert told_in(state, last_bar=True) == (LAST_BAR if word == PLAYING else word)


def test_a_state_that_is_led_by_foot_is_playing_and_a_tapped_count_off_is_one() -> None:
    led = (State.PLAYING, State.VAMPING, State.OUT_OF_TIME, State.WAITING)
    assert {told_in(state) for state in led} == {PLAYING}
    assert told_in(State.TAPPING) == told_in(State.COUNTING_OFF) == "counting off"


def test_first_all_that_is_not_lit_is_put_out_and_then_only_changes_are_told_offs_first() -> None:
    lamps = made(
        Lamp(READY, 0, "note", 36), Lamp(PLAYING, 0, "note", 37), Lamp(IN_THE_TUNE, 1, "control", 20)
    )
    assert told(lamps.show(READY, 5)) == [(0, pad(37, 0)), (0, pad(36, 127)), (1, control(0, 20, 0))]
    assert lamps.show(READY, 6) == []
    assert told(lamps.show(PLAYING, 7)) == [(0, pad(36, 0)), (0, pad(37, 127))]
    assert told(lamps.show(IN_THE_TUNE, 8)) == [(0, pad(37, 0)), (1, control(0, 20, 127))]


def test_cues_are_of_the_moment_of_their_own_rank_and_in_order() -> None:
    lamps = made(Lamp(READY, 0, "note", 36), Lamp(PLAYING, 0, "note", 20))
    (hand,) = lamps.show(PLAYING, 5)
    assert {(cue.ns, cue.rank) for cue in hand.cues} == {(5, Rank.LAMP)}
    assert list(hand.cues) == sorted(hand.cues)


def test_one_light_of_several_colours_is_told_its_next_colour_alone() -> None:
    lamps = made(
        Lamp(READY, 0, "note", 36, on=21),
        Lamp(PLAYING, 0, "note", 36, on=5, off=1),
        Lamp(LAST_BAR, 0, "note", 36, on=9),
    )
    assert told(lamps.show(READY, 0)) == [(0, pad(36, 21))]
    assert told(lamps.show(PLAYING, 0)) == [(0, pad(36, 5))]
    assert told(lamps.show(LAST_BAR, 0)) == [(0, pad(36, 9))]
    assert told(lamps.show(IN_THE_TUNE, 0)) == [(0, pad(36, 0))]  # the first lamp's off is the light's


def test_in_the_last_bar_it_still_plays() -> None:
    lamps = made(Lamp(PLAYING, 0, "note", 36), Lamp(LAST_BAR, 0, "note", 37))
    lamps.show(PLAYING, 0)
    assert told(lamps.show(LAST_BAR, 0)) == [(0, pad(37, 127))]
    assert told(lamps.show(IN_THE_TUNE, 0)) == [(0, pad(36, 0)), (0, pad(37, 0))]


def test_a_program_lights_one_thing_of_a_channel_and_is_put_out_only_where_the_rig_says_how() -> None:
    lamps = made(
        Lamp(READY, 0, "program", 0, on=0, off=None),
        Lamp(PLAYING, 0, "program", 1, on=1, off=None),
        Lamp(PLAYING, 0, "program", 7, channel=1, on=7, off=8),
    )
    assert told(lamps.show(READY, 0)) == [(0, program(1, 8)), (0, program(0, 0))]
    assert told(lamps.show(PLAYING, 0)) == [(0, program(0, 1)), (0, program(1, 7))]
    assert told(lamps.show(IN_THE_TUNE, 0)) == [(0, program(1, 8))]
    assert told(lamps.show(PLAYING, 0)) == [(0, program(0, 1)), (0, program(1, 7))]


def test_a_port_that_is_back_is_told_all_of_its_own_and_no_other_anything() -> None:
    lamps = made(Lamp(READY, 0, "note", 36), Lamp(READY, 1, "note", 40), Lamp(PLAYING, 1, "note", 41))
    lamps.show(READY, 0)
    assert told(lamps.again(1, 9)) == [(1, pad(41, 0)), (1, pad(40, 127))]
    assert lamps.again(2, 9) == []
    assert lamps.show(READY, 10) == []


def test_a_port_that_is_back_before_anything_was_shown_keeps_the_others_waiting() -> None:
    lamps = made(Lamp(READY, 0, "note", 36), Lamp(READY, 1, "note", 40))
    assert told(lamps.again(1, 0)) == [(1, pad(40, 0))]
    assert told(lamps.show(READY, 1)) == [(0, pad(36, 127)), (1, pad(40, 127))]


def test_out_puts_everything_out() -> None:
    lamps = made(Lamp(READY, 0, "note", 36), Lamp(PLAYING, 1, "control", 20, off=2))
    lamps.show(READY, 0)
    assert told(lamps.out(5)) == [(0, pad(36, 0)), (1, control(0, 20, 2))]
    assert made().out(5) == made().show(READY, 5) == []


@pytest.mark.parametrize("lookahead", [0, 30 * NS_PER_MS])
def test_at_the_end_of_the_evening_every_lamp_goes_out_and_no_note_is_owed(lookahead: int) -> None:
    lamps = (Lamp(READY, 0, "note", 36, channel=15), Lamp(PLAYING, 0, "control", 20, channel=15))
    setup = sketch_setup(lamps=lamps)
    done = rehearse(setup, SketchFront(), [], lookaheads=[lookahead], until=NS_PER_SECOND)
    last = [sent.data for sent in done.receivers[0].messages][-2:]
    assert last == [bytes((0x9F, 36, 0)), control(15, 20, 0)]
    assert done.ledger.owed(0) == []
    assert not done.receivers[0].sounding
