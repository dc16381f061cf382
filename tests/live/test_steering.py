"""What a foot can do with an intro: tap it in, nod, ask for more, finish early, breathe, lead out of time."""

from __future__ import annotations

from typing import Any

import pytest

from introit.live.messages import control, note_off, note_on
from introit.live.setup import FootSwitch
from introit.performance import PlayedNote, Wait
from introit.testing import Rehearsal, SketchFront, rehearse, sketch, sketch_setup
from introit.testing.outcome import ends_in_silence, states
from introit.testing.script import Script, feet
from introit.testing.sketch import COMP
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

MS = NS_PER_MS
BAR = 4 * TICKS_PER_QUARTER
BASS_NOTE = note_on(2, 36, 80)
MELODY_NOTE = note_on(0, 72, 70)


def played(
    script: Script,
    *,
    until: int = 60,
    lookahead: int = 0,
    tempo: float = 120,
    bars: int = 2,
    **changes: Any,
) -> Rehearsal:
    """Bars of four (a bar lasts 2 s at 120) with some fields of the performance changed."""
    front = SketchFront(changes=changes, tempo=tempo, bars=bars)
    return rehearse(sketch_setup(), front, script, until=until * NS_PER_SECOND, lookaheads=(lookahead,))


def seconds(rehearsal: Rehearsal, data: bytes) -> list[float]:
    return [sent.actual / NS_PER_SECOND for sent in rehearsal.receivers[0].ons() if sent.data == data]


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_vamp_goes_round_until_the_nod_and_lands_on_the_bar_line(lookahead: int) -> None:
    # Starts at 1 s; rounds of two bars begin at 1, 5, 9 and 13 s; the nod falls in the third.
    done = played(feet(1_000, 11_700), lookahead=lookahead, vamp=(0, 2 * BAR))
    assert states(done) == [(1.0, "vamping"), (11.7, "playing"), (13.0, "in the tune")]
    assert seconds(done, BASS_NOTE) == [1 + beat / 2 for beat in range(24)]
    assert ends_in_silence(done)


def test_a_vamp_of_some_bars_is_left_for_the_bars_behind_it() -> None:
    # The first bar goes round; bar 2 leads to the head.
    done = played(feet(1_000, 4_000), vamp=(0, BAR))
    assert states(done) == [(1.0, "vamping"), (4.0, "playing"), (7.0, "in the tune")]
    bars = [shown.bar for shown in done.beats() if shown.beat == 1]
    assert bars == [1, 1, 2]
    assert [shown.beats_to_head for shown in done.beats()][-4:] == [4, 3, 2, 1]
    assert ends_in_silence(done)


def test_without_a_nod_a_vamp_goes_on() -> None:
    done = played(feet(1_000), until=120, vamp=(0, BAR))
    assert states(done)[-1] == (1.0, "vamping")
    assert len(seconds(done, BASS_NOTE)) == 2 * 119 + 1
    assert ends_in_silence(done)  # quitting silences it


def test_a_nod_within_a_beat_of_the_start_is_none() -> None:
    assert states(played(feet(1_000, 1_450), vamp=(0, BAR)))[-1] == (1.0, "vamping")
    assert states(played(feet(1_000, 1_500), vamp=(0, BAR)))[-1] == (5.0, "in the tune")


def test_what_takes_the_vamps_first_chord_early_comes_before_each_round_but_the_way_out() -> None:
    push = PlayedNote(BAR - 240, BAR, BAR, COMP, 90, 64)  # the second bar's chord, a sixteenth early
    notes = tuple(sorted((*sketch().notes, push)))
    done = played(feet(1_000, 6_000), vamp=(BAR, 2 * BAR), notes=notes)
    # Bar 2 begins at 3 s and goes round at 5 s and 7 s; the nod at 6 s leaves it at 7 s.
    assert states(done)[-1] == (7.0, "in the tune")
    assert seconds(done, note_on(1, 90, 64)) == [2.875, 4.875]
    assert ends_in_silence(done)


def test_once_more_is_one_round_more_and_only_where_the_tune_allows() -> None:
    assert states(played(feet(1_000, 3_000)))[-1] == (5.0, "in the tune")
    done = played(feet(1_000, 3_000), once_more=True)
    assert states(done)[-1] == (9.0, "in the tune")
    assert len(seconds(done, BASS_NOTE)) == 16
    assert ends_in_silence(done)


def test_a_late_or_nervous_press_asks_for_nothing_more() -> None:
    """Within a beat of the start, or of the landing, it is more likely a mistake."""
    assert states(played(feet(1_000, 1_400), once_more=True))[-1] == (5.0, "in the tune")
    assert states(played(feet(1_000, 4_600), once_more=True))[-1] == (5.0, "in the tune")
    assert states(played(feet(1_000, 4_400), once_more=True))[-1] == (9.0, "in the tune")


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_double_press_leaves_for_the_last_bar_at_the_next_bar_line(lookahead: int) -> None:
    # Four bars from 1 s on; asked in bar 1, bar 4 follows at 3 s and the head at 5 s.
    front = SketchFront(bars=4, changes={"once_more": True})
    script = feet(1_000, 1_700, 1_900)
    done = rehearse(sketch_setup(), front, script, until=20 * NS_PER_SECOND, lookaheads=(lookahead,))
    assert states(done)[-1] == (5.0, "in the tune")
    assert [shown.bar for shown in done.beats() if shown.beat == 1] == [1, 4]
    assert ends_in_silence(done)


def test_the_last_chord_waits_for_the_breath_and_then_the_head_is_there_at_once() -> None:
    # Time waits an eighth after the last bar line; what rings there ends with the press.
    done = played(feet(1_000, 9_000), waits=(Wait(BAR + 480, 2 * BAR),))
    assert states(done) == [(1.0, "playing"), (3.25, "waiting"), (9.0, "in the tune")]
    assert ends_in_silence(done)
    chord_ends = {
        sent.actual / NS_PER_SECOND
        for sent in done.receivers[0].offs()
        if sent.data in (note_off(1, 52), note_off(1, 55))
    }
    assert chord_ends == {3.0, 9.0}


def test_out_of_time_each_press_brings_the_next_chord() -> None:
    waits = (Wait(480, BAR), Wait(BAR + 480, 2 * BAR))
    done = played(feet(1_000, 4_000, 9_000), waits=waits, out_of_time=True)
    assert states(done) == [(1.0, "out of time"), (9.0, "in the tune")]
    chords = sorted(
        {sent.actual for sent in done.receivers[0].ons() if sent.data[:1] == note_on(1, 0, 1)[:1]}
    )
    assert chords == [1_000 * MS, 4_000 * MS]
    assert ends_in_silence(done)


def test_a_press_before_the_playing_has_arrived_is_kept_for_it() -> None:
    waits = (Wait(960, BAR), Wait(BAR + 480, 2 * BAR))
    done = played(feet(1_000, 1_450, 9_000), waits=waits, out_of_time=True)
    # The wait is at 1.5 s: there the kept press lets time go on.
    chords = sorted(
        {sent.actual for sent in done.receivers[0].ons() if sent.data[:1] == note_on(1, 0, 1)[:1]}
    )
    assert chords == [1_000 * MS, 1_500 * MS]


def test_a_hold_brings_time_back() -> None:
    waits = (Wait(480, BAR), Wait(BAR + 480, 2 * BAR))
    script = feet(1_000) + feet(4_000, down_ms=700)
    done = played(script, waits=waits, out_of_time=True)
    # Bar 2 begins with the press at 4 s; held to 4.5 s, so that time is kept from there on: the head at 6 s.
    assert states(done)[0] == (1.0, "out of time")
    assert [state for _, state in states(done)] == ["out of time", "playing", "in the tune"]
    assert ends_in_silence(done)


def test_a_hold_brings_time_back_and_the_held_chord_still_waits() -> None:
    waits = (Wait(480, BAR), Wait(2 * BAR + 480, 3 * BAR, fermata=True))
    script = feet(1_000) + feet(4_000, down_ms=700) + feet(9_000)
    done = played(script, waits=waits, out_of_time=True, bars=3)
    # Bar 2 at 4 s, time kept from there on: bar 3 at 6 s, and the wait an eighth later.
    assert states(done)[-2:] == [(6.25, "waiting"), (9.0, "in the tune")]
    assert ends_in_silence(done)


def test_where_only_the_held_chord_is_left_to_wait_for_time_runs() -> None:
    waits = (Wait(480, BAR), Wait(2 * BAR + 480, 3 * BAR, fermata=True))
    done = played(feet(1_000, 4_000, 5_000, 9_000), waits=waits, out_of_time=True, bars=3)
    # The press at 5 s, in time, is a stray one: the chord waits all the same.
    assert states(done) == [
        (1.0, "out of time"),
        (4.0, "playing"),
        (6.25, "waiting"),
        (9.0, "in the tune"),
    ]


def test_taps_tell_the_tempo_and_the_downbeat() -> None:
    # Four taps at 120 (half a second): bar 1 at 3 s. The tune says 112.
    done = played(feet(1_000, 1_500, 2_000, 2_500), tempo=112, tapped=True)
    assert states(done)[0] == (1.0, "tapping")
    began, landed = (ns for ns, state in done.states() if state in ("playing", "in the tune"))
    assert began == pytest.approx(3 * NS_PER_SECOND, abs=10 * MS)
    assert landed - began == pytest.approx(4 * NS_PER_SECOND, abs=40 * MS)
    assert seconds(done, BASS_NOTE)[0] == began / NS_PER_SECOND
    assert ends_in_silence(done)


def test_a_fifth_tap_hurts_nothing() -> None:
    four = played(feet(1_000, 1_500, 2_000, 2_500), tempo=112, tapped=True)
    five = played(feet(1_000, 1_500, 2_000, 2_500, 3_010), tempo=112, tapped=True, once_more=True)
    assert [sent.actual for sent in four.receivers[0].ons()] == [
        sent.actual for sent in five.receivers[0].ons()
    ]


def test_a_count_that_breaks_off_leaves_it_ready() -> None:
    done = played(feet(1_000, 1_500), tempo=112, tapped=True)
    assert [state for _, state in states(done)] == ["tapping", "ready"]
    assert done.receivers[0].ons() == []


def test_a_double_press_on_the_last_chord_is_the_head_and_nothing_else() -> None:
    """A latching switch holds by a double press: its first press has let time go on into the head."""
    free = (Wait(500, BAR), Wait(BAR + 500, 2 * BAR))
    script = [
        (ms * MS, control(0, 64, value)) for ms, value in ((1000, 127), (4000, 0), (8000, 127), (8100, 0))
    ]
    front = SketchFront(changes={"waits": free, "out_of_time": True})
    setup = sketch_setup(foot_switch=FootSwitch(action="latching"))
    done = rehearse(setup, front, script, until=20 * NS_PER_SECOND)
    assert states(done)[-1] == (8.0, "in the tune")
    assert ends_in_silence(done)
