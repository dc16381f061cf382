"""Orders beside the foot: next, back, by number, another intro, mute, level, sound check, silence."""

from __future__ import annotations

from typing import Any

import pytest

from introit.live.events import Back, Gone, Ordered, Ready, Request, Wanted
from introit.live.messages import control, note_on, program
from introit.live.setup import ClockLead, Control
from introit.live.sound_check import sound_check
from introit.testing import Rehearsal, SketchFront, sketch, sketch_setup
from introit.testing.outcome import ends_in_silence, notes
from introit.testing.script import Script, feet
from introit.testing.sketch import BASS, CLICK, COMP, MELODY
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

MS = NS_PER_MS
BAR = 4 * TICKS_PER_QUARTER


def played(
    script: Script,
    orders: list[tuple[int, Ordered]],
    *,
    until: int = 20,
    front: Any = None,
    lookahead: int = 0,
    **setup: Any,
) -> Rehearsal:
    """Bars of four at 120 (a bar lasts 2 s)."""
    rehearsal = Rehearsal(
        sketch_setup(**({"tunes": 3} | setup)), front or SketchFront(bars=4), lookaheads=(lookahead,)
    )
    rehearsal.play(script)
    for ms, order in orders:
        rehearsal.say(ms * MS, order)
    rehearsal.run(until * NS_PER_SECOND)
    return rehearsal


def ready_keys(rehearsal: Rehearsal) -> list[str]:
    return [shown.key for shown in rehearsal.shown if shown.what == "key"]


def ons(rehearsal: Rehearsal, channel: int) -> list[float]:
    return [
        sent.actual / NS_PER_SECOND for sent in rehearsal.receivers[0].ons() if sent.data[0] & 15 == channel
    ]


# --- through the set ----------------------------------------------------------------------------------


def test_next_and_back_go_through_the_set_while_ready() -> None:
    orders = [
        (second * 1000, Ordered(order)) for second, order in enumerate(("next", "next", "next", "back"), 1)
    ]
    done = played([], orders, until=6)
    # The tunes' own keys rise by a fourth: C, F, B flat, and round again.
    assert ready_keys(done) == ["C", "F", "Bb", "C", "Bb"]
    assert notes(done) == ["the end of the set; it begins again"]


def test_next_in_the_tune_makes_the_next_one_ready() -> None:
    done = played(feet(1000), [(9200, Ordered("next")), (11_000, Ordered("next"))])  # it lands at 9 s
    assert done.states()[-1] == (11 * NS_PER_SECOND, "ready")  # not within a beat of the landing
    assert ready_keys(done) == ["C", "F"]


def test_next_while_it_plays_is_refused_and_said() -> None:
    done = played(feet(1000), [(3000, Ordered("next"))])
    assert notes(done) == ["next: not while playing"]
    assert done.states()[-1] == (9 * NS_PER_SECOND, "in the tune")


def test_a_tune_is_called_by_number() -> None:
    done = played([], [(1000, Ordered("tune", value=2)), (2000, Ordered("tune", value=3))], until=4)
    assert ready_keys(done) == ["C", "Bb"]
    assert notes(done) == ["there is no tune 4; the set has 3"]


def test_a_tune_that_is_not_arranged_yet_is_not_shown_as_the_one_before() -> None:
    """The third tune is called: until it is there, nothing is told to be ready, least of all the first."""
    rehearsal = Rehearsal(sketch_setup(tunes=3), SketchFront(), answer_after=300 * MS)
    rehearsal.say(1000 * MS, Ordered("tune", value=2))
    rehearsal.run(3 * NS_PER_SECOND)
    told = [(shown.tune, shown.key) for shown in rehearsal.shown if shown.ns >= 1000 * MS]
    assert told == [(2, ""), (2, "Bb")]


def test_another_intro_is_wanted_by_its_number() -> None:
    def front(wanted: Wanted) -> list[Ready]:
        (ready,) = SketchFront()(wanted)
        assert isinstance(ready, Ready)
        return [Ready(ready.tune, ready.own, ready.performance, wanted.request.intro or 0)]

    orders = [(1000, Ordered("another intro")), (2000, Ordered("another intro"))]
    done = played([], orders, until=4, front=front)
    assert [wanted.request for wanted in done.wanted] == [
        Request(0),
        Request(0, intro=1),
        Request(0, intro=2),
    ]


# --- parts --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_part_drops_out_at_once_and_comes_in_again(lookahead: int) -> None:
    mute, unmute = Ordered("mute", COMP), Ordered("mute", COMP)
    done = played(feet(1000), [(4000, mute), (6000, unmute)], lookahead=lookahead)
    assert ons(done, 1) == [1.0] * 3 + [3.0] * 3 + [7.0] * 3  # the bar at 5 s is left out
    offs = [sent.actual / NS_PER_SECOND for sent in done.receivers[0].offs() if sent.data[0] & 15 == 1]
    assert offs[3:6] == pytest.approx([4 + lookahead / NS_PER_SECOND] * 3, abs=0.001)
    assert len(ons(done, 2)) == 16  # nobody else is touched
    assert notes(done) == ["comp muted", "comp is heard again"]
    assert ends_in_silence(done)


def test_a_part_stays_muted_from_one_intro_to_the_next() -> None:
    done = played(feet(1000, 10_000, 10_200, 11_000), [(500, Ordered("mute", MELODY, 1))], until=25)
    assert ons(done, 0) == []
    assert len(ons(done, 2)) == 32


def test_a_level_is_told_as_expression_on_the_parts_channel() -> None:
    # Controller 11 is a part of the channel volume (controller 7): RP-003, from memory.
    done = played([], [(1000, Ordered("level", BASS, 64))], until=3)
    assert control(2, 11, 64) in [sent.data for sent in done.receivers[0].messages]


def test_a_port_that_is_back_is_told_its_levels_again() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront())
    rehearsal.say(1000 * MS, Ordered("level", BASS, 64))
    rehearsal.put(2000 * MS, Gone(0, "unplugged"))
    rehearsal.put(3000 * MS, Back(0))
    rehearsal.run(4 * NS_PER_SECOND)
    told = [sent.actual for sent in rehearsal.receivers[0].messages if sent.data == control(2, 11, 64)]
    assert told == [1000 * MS, 3000 * MS]


# --- sound check --------------------------------------------------------------------------------------


def test_the_sound_check_plays_one_part_after_the_other_and_round_again() -> None:
    done = played(feet(16_000), [(1000, Ordered("sound check"))])
    # Two bars each at 120: bass from 1 s, comp from 5 s, melody from 9 s; the click, to 17 s, is muted here.
    assert [min(ons(done, channel)) for channel in (2, 1, 0)] == [1.0, 5.0, 9.5 - 0.25]
    assert max(ons(done, 2)) < 5
    assert done.states() == [(NS_PER_SECOND, "sound check"), (16 * NS_PER_SECOND, "ready")]
    assert ends_in_silence(done)


def test_the_sound_check_goes_on_until_it_is_ended() -> None:
    done = played([], [(1000, Ordered("sound check")), (60_500, Ordered("sound check"))], until=62)
    assert len([on for on in ons(done, 2) if on % 1 == 0]) == 4 * 4  # four rounds of 16 s
    assert done.states()[-1] == (60_500 * MS, "ready")
    assert ends_in_silence(done)


def test_the_sound_check_starts_nobody_who_plays_by_our_clock() -> None:
    done = played([], [(1000, Ordered("sound check"))], lead=ClockLead(port=0))
    assert not [sent for sent in done.receivers[0].messages if sent.data[0] >= 0xF8]


def test_the_sound_check_has_every_part_that_plays_at_its_own_velocity() -> None:
    performance = sketch(count_off=4, bars=4)
    checked = sound_check(performance)
    assert [mark.symbol for mark in checked.chords] == ["bass", "comp", "melody", "click"]
    velocities = {(note.part, note.velocity) for note in performance.notes}
    assert {(note.part, note.velocity) for note in checked.notes} == velocities
    for mark, part in zip(checked.chords, (BASS, COMP, MELODY, CLICK), strict=True):
        heard = {note.part for note in checked.notes if mark.tick <= note.onset < mark.tick + 2 * BAR}
        assert heard == {part}


def test_without_a_count_off_the_check_clicks_all_the_same() -> None:
    clicks = [note for note in sound_check(sketch()).notes if note.part == CLICK]
    assert [note.onset % BAR for note in clicks] == [
        beat * TICKS_PER_QUARTER for _ in (1, 2) for beat in range(4)
    ]


# --- silence ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ms", [1100, 1900, 5000])
def test_silence_can_be_ordered_from_anywhere(ms: int) -> None:
    done = played(feet(1000), [(ms, Ordered("silence"))], front=SketchFront(count_off=2))
    assert done.states()[-1] == (ms * MS, "ready")
    assert ends_in_silence(done)
    assert max(sent.actual for sent in done.receivers[0].notes() or done.receivers[0].messages) <= ms * MS


def test_silence_in_the_tune_leaves_it_in_the_tune() -> None:
    done = played(feet(1000), [(12_000, Ordered("silence"))])
    assert done.states()[-1] == (9 * NS_PER_SECOND, "in the tune")


# --- by MIDI ------------------------------------------------------------------------------------------


def test_controls_of_the_rig_give_the_same_orders() -> None:
    controls = (
        Control("next", number=65),
        Control("tune", message="program"),
        Control("tune", message="song select"),
        Control("mute", message="note", number=36, part=COMP),
        Control("level", number=11, part=BASS),
    )
    script = [
        (1000 * MS, control(3, 65, 127)),
        (1100 * MS, control(3, 65, 0)),
        (2000 * MS, program(0, 2)),
        (3000 * MS, b"\xf3\x00"),
        (4000 * MS, note_on(9, 36, 1)),
        (5000 * MS, control(0, 11, 50)),
    ]
    done = played(script, [], until=7, controls=controls)
    assert ready_keys(done) == ["C", "F", "Bb", "C"]
    assert notes(done) == ["comp muted"]
    assert control(2, 11, 50) in [sent.data for sent in done.receivers[0].messages]


# --- practice -----------------------------------------------------------------------------------------


def test_in_practice_the_same_tune_is_ready_again_a_bar_after_the_landing() -> None:
    done = played(feet(1000, 12_000), [], until=21, practice=True)  # four bars of 2 s: the head is at 9 s
    assert [(ns // NS_PER_SECOND, state) for ns, state in done.states()] == [
        (1, "playing"),
        (9, "in the tune"),
        (11, "ready"),
        (12, "playing"),
        (20, "in the tune"),
    ]
    assert len([wanted for wanted in done.wanted if wanted.afresh]) == 2


def test_what_rings_over_the_head_is_not_cut_by_practising() -> None:
    front = SketchFront(bars=4, changes={"end_tick": 6 * BAR})
    done = played(feet(1000), [], front=front, practice=True)
    assert done.states()[-1] == (13 * NS_PER_SECOND, "ready")
