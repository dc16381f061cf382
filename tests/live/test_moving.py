"""What plays is moved: to another key at the next bar line, to another tempo at once or at the bar line."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from introit.live.events import Ordered
from introit.live.messages import note_on
from introit.live.setup import ClockLead, KeyZone
from introit.live.tempo import pace_at, paced, ramp
from introit.live.timeline import Timeline
from introit.performance import PlayedNote, Wait
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.testing.outcome import ends_in_silence, notes, states
from introit.testing.script import Script, feet, key
from introit.testing.sketch import BASS, COMP
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER, ns_per_tick

MS = NS_PER_MS
BAR = 4 * TICKS_PER_QUARTER
Order = tuple[int, Ordered]


def played(
    script: Script,
    orders: list[Order] | None = None,
    *,
    until: int = 30,
    lookahead: int = 0,
    answer_after: int = 0,
    setup: dict[str, Any] | None = None,
    bars: int = 4,
    count_off: int = 0,
    **changes: Any,
) -> Rehearsal:
    """Bars of four at 120 (a bar lasts 2 s); key notes from 24 to 47, the first at 1 s."""
    front = SketchFront(changes=changes, bars=bars, count_off=count_off)
    zone = KeyZone(minor="tune")
    rehearsal = Rehearsal(
        sketch_setup(key_zone=zone, **(setup or {})),
        front,
        lookaheads=(lookahead,),
        answer_after=answer_after,
    )
    rehearsal.play(script)
    for ms, order in orders or []:
        rehearsal.say(ms * MS, order)
    rehearsal.run(until * NS_PER_SECOND)
    return rehearsal


def bass(rehearsal: Rehearsal) -> list[tuple[float, int]]:
    """(second, pitch) of each bass note."""
    return [
        (sent.actual / NS_PER_SECOND, sent.data[1])
        for sent in rehearsal.receivers[0].ons()
        if sent.data[0] & 15 == BASS
    ]


def seconds(rehearsal: Rehearsal) -> list[float]:
    return [round(second, 4) for second, _ in bass(rehearsal)]


# --- another key --------------------------------------------------------------------------------------


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_key_note_moves_what_plays_at_the_next_bar_line(lookahead: int) -> None:
    # Starts at 1 s in C; E flat is named in the second bar, at 4 s; the third begins at 5 s.
    done = played([*feet(1000), *key(4000, 27)], lookahead=lookahead)
    assert bass(done) == [(1 + beat / 2, 36 if beat < 8 else 39) for beat in range(16)]
    assert states(done)[-1] == (9.0, "in the tune")
    assert "in Eb from the next bar" in notes(done)
    assert [(shown.bar, shown.symbol) for shown in done.beats() if shown.beat == 1] == [
        (1, "C"),
        (2, "C"),
        (3, "Eb"),
        (4, "Eb"),
    ]
    assert ends_in_silence(done)


def test_the_key_of_a_later_playing_is_the_one_that_it_was_moved_to() -> None:
    done = played([*feet(1000, 12_000, 12_200, 14_000), *key(4000, 27)])
    assert {pitch for second, pitch in bass(done) if second > 13} == {39}


def test_a_vamp_is_moved_and_goes_round_until_the_nod() -> None:
    # Rounds of two bars from 1 s; the key note falls in the second round; the nod in the third.
    done = played([*feet(1000, 10_000), *key(6000, 29)], vamp=(0, 2 * BAR), bars=2)
    assert {pitch for second, pitch in bass(done) if second < 7} == {36}
    assert {pitch for second, pitch in bass(done) if second >= 7} == {41}
    assert states(done) == [(1.0, "vamping"), (10.0, "playing"), (13.0, "in the tune")]
    assert ends_in_silence(done)


def test_a_key_note_in_the_last_bar_of_a_round_moves_the_round_that_follows() -> None:
    done = played([*feet(1000, 8000), *key(4500, 29)], vamp=(0, 2 * BAR), bars=2)
    assert {pitch for second, pitch in bass(done) if second < 5} == {36}
    assert {pitch for second, pitch in bass(done) if second >= 5} == {41}
    assert ends_in_silence(done)


def test_what_comes_too_late_changes_nothing_and_is_said() -> None:
    done = played([*feet(1000), *key(7600, 27)])  # in the last bar, which ends at 9 s
    assert {pitch for _, pitch in bass(done)} == {36}
    assert "too late; it stays in C" in notes(done)
    assert done.shown[-1].key == "C"


def test_a_key_named_twice_in_a_bar_is_the_one_named_last() -> None:
    done = played([*feet(1000), *key(1600, 27), *key(2200, 29)])
    assert {pitch for second, pitch in bass(done) if second >= 3} == {41}
    assert ends_in_silence(done)


def test_a_count_off_is_counted_on_and_the_intro_begins_in_the_key_named() -> None:
    done = played([*feet(1000), *key(1700, 27)], count_off=4)
    assert bass(done) == [(3 + beat / 2, 39) for beat in range(16)]
    assert states(done)[:2] == [(1.0, "counting off"), (3.0, "playing")]


def test_a_key_named_while_the_bar_is_tapped_is_the_one_that_it_begins_in() -> None:
    # Four taps at 120 from 1 s: the downbeat is at 3 s; the key is named after the last tap.
    done = played([*feet(1000, 1500, 2000, 2500), *key(2700, 27)], tapped=True)
    assert bass(done) == [(3 + beat / 2, 39) for beat in range(16)]
    assert ends_in_silence(done)


def test_a_key_that_the_front_still_arranges_moves_it_at_the_bar_line_after_that() -> None:
    done = played([*feet(2500), *key(4000, 27)], answer_after=1200 * MS)
    # Named at 4 s, there at 5.2 s; bar lines at 2.5, 4.5, 6.5.
    assert {pitch for second, pitch in bass(done) if second < 6.5} == {36}
    assert {pitch for second, pitch in bass(done) if second >= 6.5} == {39}


def test_what_takes_the_new_chord_early_is_played_early_in_the_new_key() -> None:
    early = TICKS_PER_QUARTER // 2
    push = PlayedNote(BAR - early, 2 * BAR, BAR, COMP, 60, 64)

    def pushed(request: Any) -> Any:
        (ready,) = SketchFront()(request)
        performance = ready.performance
        moved = push._replace(pitch=60 + performance.tonic)
        return [replace(ready, performance=replace(performance, notes=(*performance.notes, moved)))]

    rehearsal = Rehearsal(sketch_setup(key_zone=KeyZone(minor="tune")), pushed)
    rehearsal.play([*feet(1000), *key(1600, 27)])
    rehearsal.run(10 * NS_PER_SECOND)
    at = [sent.actual / NS_PER_SECOND for sent in rehearsal.receivers[0].ons() if sent.data[1] == 63]
    assert at == [2.75]  # an eighth before the second bar, at 3 s
    assert all(sent.data[:2] != note_on(1, 60, 1)[:2] for sent in rehearsal.receivers[0].ons())
    assert ends_in_silence(rehearsal)


def test_a_chord_that_lasts_over_the_bar_line_is_struck_there_in_the_new_key() -> None:
    def held(request: Any) -> Any:
        (ready,) = SketchFront(bars=4)(request)
        chord = PlayedNote(0, 4 * BAR, 0, COMP, 60 + ready.performance.tonic, 64)
        return [replace(ready, performance=replace(ready.performance, notes=(chord,)))]

    rehearsal = Rehearsal(sketch_setup(key_zone=KeyZone(minor="tune")), held)
    rehearsal.play([*feet(1000), *key(1600, 27)])
    rehearsal.run(12 * NS_PER_SECOND)
    sent = [
        (one.actual / NS_PER_SECOND, one.data[0] >> 4, one.data[1]) for one in rehearsal.receivers[0].notes()
    ]
    assert sent == [(1.0, 9, 60), (3.0, 8, 60), (3.0, 9, 63), (9.0, 8, 63)]


def test_another_form_is_not_taken_up_in_the_middle() -> None:
    def other(request: Any) -> Any:
        (ready,) = SketchFront(bars=4)(request)
        intro = "another" if request.request.tonic == 3 else "sketch"
        return [replace(ready, performance=replace(ready.performance, intro=intro))]

    rehearsal = Rehearsal(sketch_setup(key_zone=KeyZone(minor="tune")), other)
    rehearsal.play([*feet(1000), *key(1600, 27)])
    rehearsal.run(12 * NS_PER_SECOND)
    assert {pitch for _, pitch in bass(rehearsal)} == {36}
    assert "another intro in Eb; it stays in C" in notes(rehearsal)


def test_a_held_dominant_waits_in_the_new_key() -> None:
    wait = Wait(3 * BAR, 4 * BAR, fermata=True)
    done = played([*feet(1000, 9000), *key(4000, 27)], waits=(wait,))
    assert {pitch for second, pitch in bass(done) if second >= 5} == {39}
    assert states(done)[-2:] == [(7.0, "waiting"), (9.0, "in the tune")]
    assert ends_in_silence(done)


# --- another tempo ------------------------------------------------------------------------------------


def test_a_ramp_lasts_a_beat_and_ends_at_the_new_pace() -> None:
    before, after = ns_per_tick(120), ns_per_tick(130)
    steps = ramp(1000, before, after)
    timeline = paced(Timeline.starting(0, 0, before), steps, arrived=False)
    assert steps[-1].tick < 1000 + TICKS_PER_QUARTER
    assert [pace_at(timeline, tick) for tick in (0, 999, 1000 + TICKS_PER_QUARTER)] == [before, before, after]
    assert all(one.pace > two.pace for one, two in pairwise(steps))


def test_while_time_is_held_a_ramp_leaves_it_held() -> None:
    timeline = Timeline.starting(0, 0, Fraction(1000)).hold(2000)
    steps = ramp(1990, Fraction(1000), Fraction(900))  # ten ticks of it, a step of 12.5 ns shorter
    assert paced(timeline, steps, arrived=False).arrival == 1_990_000 + 9_875
    assert paced(timeline, steps, arrived=True) is timeline


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_nudge_makes_it_faster_from_the_next_note_on(lookahead: int) -> None:
    done = played(feet(1000), [(2600, Ordered("faster")), (2700, Ordered("faster"))], lookahead=lookahead)
    beats = [round(later - earlier, 3) for earlier, later in pairwise(seconds(done))]
    assert beats[0] == 0.5
    assert beats[-1] == pytest.approx(60 / 124, abs=1e-3)
    assert beats == sorted(beats, reverse=True)
    assert notes(done) == ["122 a minute", "124 a minute"]
    assert states(done)[-1][0] == pytest.approx(seconds(done)[-1] + 60 / 124, abs=1e-4)
    assert ends_in_silence(done)


def test_a_nudge_in_the_count_off_moves_the_downbeat() -> None:
    done = played(feet(1000), [(1100, Ordered("slower"))], count_off=4)
    first = seconds(done)[0]
    assert 3 < first < 1 + 4 * 60 / 118
    assert ("playing", first) == (states(done)[1][1], pytest.approx(states(done)[1][0], abs=1e-4))


def test_a_nudge_while_a_chord_waits_is_the_tempo_that_it_goes_on_in() -> None:
    wait = Wait(2 * BAR, 2 * BAR + TICKS_PER_QUARTER, fermata=True)
    done = played(feet(1000, 8000), [(6000, Ordered("faster"))], waits=(wait,))
    late = [second for second in seconds(done) if second >= 8]
    assert late[1] - late[0] == pytest.approx(60 / 122, abs=1e-4)
    assert ends_in_silence(done)


def test_what_was_nudged_is_played_at_that_tempo_the_next_time() -> None:
    done = played(feet(1000), [(2600, Ordered("faster"))])
    again = [wanted for wanted in done.wanted if wanted.afresh]
    assert [wanted.request.tempo for wanted in again] == [122.0]


def test_while_ready_the_tune_is_wanted_at_another_tempo() -> None:
    done = played([], [(1000, Ordered("faster")), (1500, Ordered("faster"))], until=3)
    assert [wanted.request.tempo for wanted in done.wanted] == [None, 122.0, 124.0]


def test_a_tapped_tempo_is_taken_at_the_next_bar_line() -> None:
    taps = [(1300 + 400 * number, Ordered("tap tempo")) for number in range(4)]  # 150 a minute
    done = played(feet(1000), taps)
    times = seconds(done)
    assert times[:5] == [1 + beat / 2 for beat in range(5)]  # three taps are enough; the bar line is at 3 s
    assert times[5] - times[4] == pytest.approx(0.4, abs=0.004)
    assert notes(done)[-1] == "150 a minute from the next bar"


def test_a_tapped_tempo_while_ready_is_wanted_from_the_front() -> None:
    done = played(
        [], [(1000 + 500 * 60 // 75 * number, Ordered("tap tempo")) for number in range(4)], until=6
    )
    assert done.wanted[-1].request.tempo == 150.0


def test_the_clock_that_others_play_by_follows_a_nudge() -> None:
    done = played(
        feet(1000), [(2600, Ordered("faster"))], setup={"lead": ClockLead(port=0, start="intro")}, bars=2
    )
    clocks = [sent.actual for sent in done.receivers[0].messages if sent.data == b"\xf8"]
    beats = [sent.actual for sent in done.receivers[0].ons() if sent.data[0] & 15 == BASS]
    # Start goes before the first clock, which is a little late as nobody counts off.
    assert [clocks.index(beat) for beat in beats[1:]] == [24 * number for number in range(1, 8)]
