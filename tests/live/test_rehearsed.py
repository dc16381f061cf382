"""The real loop, both halves in one process, on a fake clock: what a foot and a hand make sound, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import pytest

from introit.live.cue import Cue, Rank
from introit.live.events import (
    Back,
    Gone,
    Lost,
    Played,
    Plugged,
    Refused,
    Request,
    Shown,
    Unplugged,
    Wanted,
)
from introit.live.ledger import LEFT
from introit.live.messages import control, note_off, note_on, program
from introit.live.setup import FootSwitch, KeyZone
from introit.performance import PARTS, Performance, PlayedNote
from introit.testing import Rehearsal, SketchFront, rehearse, sketch, sketch_setup
from introit.testing.script import Script, key
from introit.testing.sketch import CLICK
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER, ns_per_tick

MS = NS_PER_MS


def foot(*presses: tuple[int, int]) -> Script:
    """A momentary controller 64, from down at the first to up at the second millisecond of each pair."""
    return [(ms * MS, control(0, 64, value)) for down, up in presses for ms, value in ((down, 127), (up, 0))]


def expected_notes(performance: Performance, start: int) -> list[tuple[int, bytes]]:
    """Every note-on and note-off of melody, comp and bass, by plain arithmetic, in the cues' order."""
    pace = ns_per_tick(performance.tempo)
    notes = []
    for note in performance.notes:
        if note.part != CLICK:
            begin, end = (
                round(start + (tick - performance.start_tick) * pace) for tick in (note.onset, note.end)
            )
            notes.append((begin, 1, note_on(note.part, note.pitch, note.velocity)))
            notes.append((end, 0, note_off(note.part, note.pitch)))
    return [(ns, data) for ns, _, data in sorted(notes)]


def sounded(rehearsal: Rehearsal) -> list[tuple[int, bytes]]:
    return [(sent.actual, sent.data) for receiver in rehearsal.receivers for sent in receiver.notes()]


def silent_at_the_end(rehearsal: Rehearsal) -> bool:
    owed = [rehearsal.ledger.owed(port) for port in range(len(rehearsal.ports))]
    return not any(receiver.sounding for receiver in rehearsal.receivers) and not any(owed)


def texts(rehearsal: Rehearsal, what: str) -> list[str]:
    return [shown.text for shown in rehearsal.shown if shown.what == what]


def starts(rehearsal: Rehearsal) -> list[int]:
    return [ns for ns, state in rehearsal.states() if state in ("counting off", "playing")]


# --- the intro --------------------------------------------------------------------------------------


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_press_starts_the_intro_and_every_note_falls_where_arithmetic_says(lookahead: int) -> None:
    done = rehearse(
        sketch_setup(), SketchFront(), foot((1000, 1100)), lookaheads=[lookahead], until=8 * NS_PER_SECOND
    )
    assert sorted(sounded(done)) == sorted(expected_notes(sketch(), NS_PER_SECOND))
    assert [sent.ideal for sent in done.sent] == [sent.actual for sent in done.sent]
    assert silent_at_the_end(done)
    assert done.reason == "the rehearsal is over"


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_everything_is_off_on_the_heads_downbeat_exactly(lookahead: int) -> None:
    done = rehearse(
        sketch_setup(), SketchFront(), foot((1000, 1100)), lookaheads=[lookahead], until=8 * NS_PER_SECOND
    )
    head = NS_PER_SECOND + 8 * 500 * MS  # two bars of 4/4 at 120
    ons, offs = done.receivers[0].ons(), done.receivers[0].offs()
    assert max(sent.actual for sent in offs) == head
    assert max(sent.actual for sent in ons) < head
    assert done.states() == [(NS_PER_SECOND, "playing"), (head, "in the tune")]


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_note_struck_again_is_off_before_it_is_on(lookahead: int) -> None:
    done = rehearse(
        sketch_setup(), SketchFront(), foot((1000, 1100)), lookaheads=[lookahead], until=8 * NS_PER_SECOND
    )
    bass = [sent.data for sent in done.receivers[0].notes() if sent.data[0] & 0x0F == 2]
    assert bass == [note_on(2, 36, 80), note_off(2, 36)] * 8


def test_several_outputs_each_get_their_parts() -> None:
    setup = sketch_setup(ports=2)
    done = rehearse(
        setup, SketchFront(), foot((1000, 1100)), lookaheads=[0, 20 * MS], until=8 * NS_PER_SECOND
    )
    channels = [{sent.data[0] & 0x0F for sent in receiver.notes()} for receiver in done.receivers]
    assert channels == [{0, 1}, {2}]
    assert sorted(sounded(done)) == sorted(expected_notes(sketch(), NS_PER_SECOND))
    assert silent_at_the_end(done)


def test_a_muted_part_and_one_without_a_route_are_not_heard() -> None:
    done = rehearse(
        sketch_setup(), SketchFront(count_off=4), foot((1000, 1100)), until=8 * NS_PER_SECOND
    )  # its click is muted
    assert all(sent.data[0] & 0x0F != 9 for sent in done.receivers[0].messages)
    done = rehearse(sketch_setup(routes=()), SketchFront(), foot((1000, 1100)), until=8 * NS_PER_SECOND)
    assert done.receivers[0].notes() == []
    assert [state for _, state in done.states()] == ["playing", "in the tune"]


def test_programs_and_levels_are_told_once_when_the_tune_is_ready() -> None:
    done = rehearse(sketch_setup(), SketchFront(), foot((1000, 1100), (6000, 6600)), until=9 * NS_PER_SECOND)
    told = [sent.data for sent in done.receivers[0].messages if sent.data[0] & 0xE0 in (0xA0, 0xC0)]
    expected = [control(0, 7, 100), control(1, 7, 90), control(2, 7, 100)]
    expected += [program(0, 26), program(1, 26), program(2, 32)]
    assert told[:6] == expected
    # All Notes Off on the way out, and nothing else: not again when the next tune was ready.
    assert set(told[6:]) == {control(channel, 123, 0) for channel in range(3)}


def test_an_hour_does_not_drift() -> None:
    # 3600 s at 132.3 to the minute are 7938 quarter notes (arithmetic): 1984.5 bars of 4/4.
    front = SketchFront(tempo=132.3, bars=1985)
    done = rehearse(sketch_setup(), front, foot((1000, 1100)), until=3_700 * NS_PER_SECOND)
    bass = [sent for sent in done.receivers[0].ons() if sent.data[0] & 0x0F == 2]
    assert bass[7938].actual == NS_PER_SECOND + 3600 * NS_PER_SECOND
    assert silent_at_the_end(done)


def test_beats_are_told_when_they_fall() -> None:
    done = rehearse(sketch_setup(), SketchFront(count_off=4), foot((1000, 1100)), until=9 * NS_PER_SECOND)
    beats = done.beats()
    assert [beat.ns for beat in beats] == [(1000 + 500 * number) * MS for number in range(12)]
    assert [(beat.bar, beat.beat) for beat in beats] == [
        (bar, beat) for bar in (0, 1, 2) for beat in (1, 2, 3, 4)
    ]
    assert [beat.beats_to_head for beat in beats] == list(range(12, 0, -1))
    assert [beat.state for beat in beats] == ["counting off"] * 4 + ["playing"] * 8
    assert [beat.symbol for beat in beats] == [""] * 4 + ["C"] * 8
    assert (beats[0].title, beats[0].key, beats[0].tempo) == ("A Sketch", "C", 120)


# --- the table --------------------------------------------------------------------------------------


def test_a_press_cancels_the_count_off_but_not_in_its_first_half_second() -> None:
    early = foot((1000, 1050), (1499, 1550))
    done = rehearse(sketch_setup(), SketchFront(count_off=4), early, until=9 * NS_PER_SECOND)
    assert [state for _, state in done.states()] == ["counting off", "playing", "in the tune"]
    late = foot((1000, 1050), (1500, 1550))
    done = rehearse(sketch_setup(), SketchFront(count_off=4), late, until=9 * NS_PER_SECOND)
    assert done.states() == [(1000 * MS, "counting off"), (1500 * MS, "ready")]
    assert done.receivers[0].ons() == []


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
@pytest.mark.parametrize("committed", [0, 20 * MS])
def test_a_hold_while_playing_is_silence_at_once(lookahead: int, committed: int) -> None:
    rehearsal = Rehearsal(
        sketch_setup(), SketchFront(), lookaheads=[lookahead], committed=min(committed, lookahead)
    )
    rehearsal.play(foot((1000, 1100), (1990, 2600)))
    rehearsal.run(8 * NS_PER_SECOND)
    assert rehearsal.states() == [(1000 * MS, "playing"), (2490 * MS, "ready")]
    latest = 2490 * MS + min(committed, lookahead)
    assert max(sent.actual for sent in rehearsal.receivers[0].ons()) <= latest
    assert max(sent.actual for sent in rehearsal.receivers[0].offs()) <= 2490 * MS + lookahead
    assert silent_at_the_end(rehearsal)


def test_keeping_the_foot_down_after_the_start_does_not_silence() -> None:
    done = rehearse(sketch_setup(), SketchFront(), foot((1000, 4000)), until=8 * NS_PER_SECOND)
    assert [state for _, state in done.states()] == ["playing", "in the tune"]
    counted = rehearse(sketch_setup(), SketchFront(count_off=1), foot((1000, 4000)), until=8 * NS_PER_SECOND)
    assert [state for _, state in counted.states()] == ["counting off", "playing", "in the tune"]


def test_presses_and_double_presses_while_playing_do_nothing() -> None:
    script = foot((1000, 1050), (1200, 1250), (2000, 2050), (2100, 2150), (2300, 2350))
    done = rehearse(sketch_setup(), SketchFront(), script, until=8 * NS_PER_SECOND)
    assert sorted(sounded(done)) == sorted(expected_notes(sketch(), NS_PER_SECOND))


def test_in_the_tune_a_press_is_inert_a_hold_readies_the_next_a_double_press_the_same() -> None:
    # The landing is at 5.0 s; from 5.5 s on, a beat later, holds and double presses may act.
    script = foot((1000, 1050), (5600, 5700), (6500, 6550), (6800, 6850), (8000, 8050), (12_600, 13_200))
    done = rehearse(sketch_setup(), SketchFront(), script, until=20 * NS_PER_SECOND)
    assert done.states() == [
        (1000 * MS, "playing"),
        (5000 * MS, "in the tune"),
        (6800 * MS, "ready"),
        (8000 * MS, "playing"),
        (12_000 * MS, "in the tune"),
        (13_100 * MS, "ready"),
    ]
    keys = [shown.tune for shown in done.shown if shown.what == "key"]
    assert keys == [0, 1]


@pytest.mark.parametrize(("down", "acts"), [(4980, False), (5001, True)])
def test_a_hold_in_the_tune_must_begin_there(down: int, acts: bool) -> None:
    # At 180 a beat takes a third of a second, so the guard is over when such a hold is complete.
    script = foot((5000 - 8 * 1000 // 3, 2400), (down, down + 900))
    done = rehearse(sketch_setup(), SketchFront(tempo=180), script, until=9 * NS_PER_SECOND)
    assert (done.states()[-1][1] == "ready") is acts


def test_gestures_in_the_first_beat_after_the_landing_do_nothing() -> None:
    script = foot((1000, 1050), (5010, 5050), (5300, 5350))
    done = rehearse(sketch_setup(), SketchFront(), script, until=9 * NS_PER_SECOND)
    assert [state for _, state in done.states()] == ["playing", "in the tune"]


def test_the_set_begins_again_and_says_so() -> None:
    script = foot((1000, 1050), (6000, 6600), (7000, 7050), (12_000, 12_600))
    done = rehearse(sketch_setup(), SketchFront(), script, until=14 * NS_PER_SECOND)
    assert [shown.tune for shown in done.shown if shown.what == "key"] == [0, 1, 0]
    assert texts(done, "note") == ["the end of the set; it begins again"]


@pytest.mark.parametrize("action", ["latching", "press-only"])
def test_a_switch_that_cannot_be_held_uses_a_double_press(action: str) -> None:
    values = (127, 0) * 10 if action == "latching" else (127,) * 20
    times = [1000, 2000, 2300, 4000, 9000, 9300, 10_000]
    script = [(ms * MS, control(0, 64, value)) for ms, value in zip(times, values, strict=False)]
    setup = sketch_setup(foot_switch=FootSwitch(action=action))
    done = rehearse(setup, SketchFront(), script, until=20 * NS_PER_SECOND)
    assert done.states() == [
        (1000 * MS, "playing"),
        (2300 * MS, "ready"),
        (4000 * MS, "playing"),
        (8000 * MS, "in the tune"),
        (9300 * MS, "ready"),
        (10_000 * MS, "playing"),
        (14_000 * MS, "in the tune"),
    ]
    assert [shown.tune for shown in done.shown if shown.what == "key"] == [0, 1]
    assert silent_at_the_end(done)


@pytest.mark.parametrize(
    ("switch", "messages"),
    [
        (FootSwitch(inverted=True), (control(0, 64, 0), control(0, 64, 127))),
        (FootSwitch(), (control(0, 64, 80), control(0, 64, 50))),
        (FootSwitch(message="note", number=12), (note_on(0, 12, 1), note_off(0, 12))),
        (FootSwitch(number=4, channel=5), (control(5, 4, 127), control(5, 4, 0))),
    ],
)
def test_any_momentary_switch_starts_and_silences(switch: FootSwitch, messages: tuple[bytes, bytes]) -> None:
    down, up = messages
    script = [(ms * MS, data) for ms, data in ((500, up), (1000, down), (1100, up), (2000, down), (2700, up))]
    done = rehearse(sketch_setup(foot_switch=switch), SketchFront(), script, until=8 * NS_PER_SECOND)
    assert done.states() == [(1000 * MS, "playing"), (2500 * MS, "ready")]


def test_the_front_can_play_a_foot_switch() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront())
    rehearsal.say(1000 * MS, Played(0, control(0, 64, 127)))
    rehearsal.run(8 * NS_PER_SECOND)
    assert starts(rehearsal) == [1000 * MS]
    assert [(heard.ns, heard.data) for heard in rehearsal.heard] == [(1000 * MS, control(0, 64, 127))]


# --- key notes --------------------------------------------------------------------------------------


def test_a_key_note_re_keys_and_its_minor_third_makes_it_minor() -> None:
    script = [*key(1000, 27), *key(1100, 30), *foot((2000, 2100))]  # E flat, then G flat
    done = rehearse(sketch_setup(key_zone=KeyZone()), SketchFront(), script, until=8 * NS_PER_SECOND)
    assert [shown.key for shown in done.shown if shown.what == "key"] == ["C", "Eb", "Eb minor"]
    assert [wanted.request for wanted in done.wanted] == [
        Request(0),
        Request(0, 3, None),
        Request(0, 3, True),
        Request(0, 3, True),  # played: once more, afresh
        Request(1),
    ]
    assert sorted(sounded(done)) == sorted(expected_notes(sketch(3, minor=True), 2000 * MS))


def test_what_came_at_the_same_time_is_heard_as_it_came() -> None:
    for first, third, name in ((27, 30, "Eb minor"), (30, 27, "Eb")):
        script = [(1000 * MS, note_on(0, first, 90)), (1000 * MS, note_on(0, third, 90))]
        done = rehearse(sketch_setup(key_zone=KeyZone()), SketchFront(), script, until=2 * NS_PER_SECOND)
        assert [shown.key for shown in done.shown if shown.what == "key"][-1] == name


def test_a_key_named_before_costs_only_a_look_up() -> None:
    script = [*key(1000, 27), *key(2000, 24), *key(3000, 39)]
    done = rehearse(sketch_setup(key_zone=KeyZone()), SketchFront(), script, until=5 * NS_PER_SECOND)
    assert [shown.key for shown in done.shown if shown.what == "key"] == ["C", "Eb", "C", "Eb"]
    assert [wanted.request for wanted in done.wanted] == [Request(0), Request(0, 3, None)]


@pytest.mark.parametrize(
    ("zone", "script", "start", "name"),
    [
        (KeyZone(minor="tune", starts=True), key(1000, 27), 1000, "Eb"),
        (KeyZone(minor="half", starts=True), key(1000, 39), 1000, "Eb minor"),
        (KeyZone(minor="third", starts=True), key(1000, 27), 1250, "Eb"),
        (KeyZone(minor="third", starts=True), [*key(1000, 27), *key(1100, 42)], 1100, "Eb minor"),
    ],
)
def test_a_key_note_starts_if_the_rig_says_so(zone: KeyZone, script: Script, start: int, name: str) -> None:
    done = rehearse(sketch_setup(key_zone=zone), SketchFront(), script, until=8 * NS_PER_SECOND)
    assert done.states()[0] == (start * MS, "playing")
    assert done.beats()[0].key == name


def test_key_notes_are_not_listened_to_in_the_tune() -> None:
    script = [*foot((1000, 1100)), *key(6000, 27)]
    done = rehearse(sketch_setup(key_zone=KeyZone()), SketchFront(), script, until=8 * NS_PER_SECOND)
    assert [shown.key for shown in done.shown if shown.what == "key"] == ["C"]
    assert sorted(sounded(done)) == sorted(expected_notes(sketch(), NS_PER_SECOND))


def test_a_press_within_the_window_starts_in_the_key_named_so_far() -> None:
    """A minor third that comes after the press makes it minor from the next bar on."""
    script = [*key(1000, 27), *foot((1100, 1150)), *key(1200, 30)]
    zone = KeyZone(starts=True)
    done = rehearse(sketch_setup(key_zone=zone), SketchFront(), script, until=8 * NS_PER_SECOND)
    assert starts(done) == [1100 * MS]
    line = 3100 * MS
    major, minor = (expected_notes(sketch(3, minor=minor), 1100 * MS) for minor in (False, True))
    off = 0x80
    expected = [note for note in major if note[0] < line or (note[0] == line and note[1][0] & 0xF0 == off)]
    expected += [note for note in minor if note[0] > line or (note[0] == line and note[1][0] & 0xF0 != off)]
    assert sorted(sounded(done)) == sorted(expected)


def test_the_named_key_stays_for_the_same_tune_and_goes_with_the_next() -> None:
    script = [*key(500, 27), *foot((1000, 1050), (6000, 6050), (6200, 6250), (7000, 7050), (12_000, 12_600))]
    done = rehearse(sketch_setup(key_zone=KeyZone()), SketchFront(), script, until=14 * NS_PER_SECOND)
    assert {beat.key for beat in done.beats()} == {"Eb"}
    assert [shown.key for shown in done.shown if shown.what == "key"] == ["C", "Eb", "F"]


# --- what the front answers -------------------------------------------------------------------------


def test_the_next_tune_is_asked_for_at_the_landing() -> None:
    done = rehearse(sketch_setup(), SketchFront(), foot((1000, 1050)), until=8 * NS_PER_SECOND)
    afresh = Wanted(Request(0, 0, False), afresh=True)
    assert done.wanted == [Wanted(Request(0)), afresh, Wanted(Request(1))]


@pytest.mark.parametrize(("answer_after", "start"), [(1300, 1300), (1499, 1499), (1501, None)])
def test_a_press_before_anything_is_ready_is_remembered_for_half_a_second(
    answer_after: int, start: int | None
) -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(), answer_after=answer_after * MS)
    rehearsal.play(foot((1000, 1050)))
    rehearsal.run(9 * NS_PER_SECOND)
    assert starts(rehearsal) == ([] if start is None else [start * MS])
    assert silent_at_the_end(rehearsal)


def test_a_press_waits_for_the_key_that_was_called_and_never_starts_in_the_old_one() -> None:
    zone = KeyZone(minor="tune")
    rehearsal = Rehearsal(sketch_setup(key_zone=zone), SketchFront(), answer_after=300 * MS)
    rehearsal.play([*key(1000, 27), *foot((1100, 1150))])
    rehearsal.run(9 * NS_PER_SECOND)
    assert starts(rehearsal) == [1300 * MS]
    assert rehearsal.beats()[0].key == "Eb"


def test_a_refused_key_keeps_what_was_ready_and_says_why() -> None:
    script = [*key(1000, 27), *foot((2000, 2050))]
    front = SketchFront(refuse_tonics=[3])
    done = rehearse(sketch_setup(key_zone=KeyZone()), front, script, until=8 * NS_PER_SECOND)
    assert texts(done, "refused") == ["it cannot be arranged there"]
    assert {beat.key for beat in done.beats()} == {"C"}


def test_a_refused_tune_is_passed_over() -> None:
    script = foot((1000, 1050), (6000, 6600), (7000, 7050))
    done = rehearse(sketch_setup(tunes=3), SketchFront(refuse=[1]), script, until=14 * NS_PER_SECOND)
    assert [shown.tune for shown in done.shown if shown.what == "key"] == [0, 2]
    first = rehearse(sketch_setup(tunes=3), SketchFront(refuse=[0]), [], until=1 * NS_PER_SECOND)
    assert [shown.tune for shown in first.shown if shown.what == "key"] == [1]


def test_when_no_other_tune_can_be_had_the_one_that_was_ready_stays() -> None:
    script = foot((1000, 1050), (6000, 6600), (7000, 7050))
    done = rehearse(sketch_setup(tunes=2), SketchFront(refuse=[1]), script, until=14 * NS_PER_SECOND)
    assert starts(done) == [1000 * MS, 7000 * MS]
    assert {beat.tune for beat in done.beats()} == {0}


def test_when_nothing_can_be_had_a_press_asks_again() -> None:
    front = SketchFront(refuse=[0, 1])
    rehearsal = Rehearsal(sketch_setup(), front)
    rehearsal.clock.at(900 * MS, lambda: setattr(front, "refuse", []))
    rehearsal.play(foot((500, 550), (1000, 1050)))
    rehearsal.run(8 * NS_PER_SECOND)
    assert starts(rehearsal) == [1000 * MS]


def test_a_press_asks_for_all_tunes_again_when_none_could_be_had() -> None:
    front = SketchFront(refuse=[0, 1])
    rehearsal = Rehearsal(sketch_setup(), front)
    rehearsal.clock.at(900 * MS, lambda: setattr(front, "refuse", [0]))
    rehearsal.play(foot((1000, 1050), (2000, 2050)))
    rehearsal.run(8 * NS_PER_SECOND)
    assert starts(rehearsal) == [2000 * MS]
    assert {beat.tune for beat in rehearsal.beats()} == {1}


def test_a_tune_asked_for_ahead_is_kept() -> None:
    script = [*foot((1000, 1050), (6000, 6050), (6200, 6250)), *key(7000, 27), *foot((8000, 8050))]
    done = rehearse(sketch_setup(key_zone=KeyZone()), SketchFront(), script, until=14 * NS_PER_SECOND)
    assert [state for _, state in done.states()] == [
        "playing",
        "in the tune",
        "ready",
        "playing",
        "in the tune",
    ]
    assert [wanted.request for wanted in done.wanted] == [
        Request(0),
        Request(0, 0, False),
        Request(1),
        Request(0, 3),
        Request(0, 3, False),
    ]


# --- nothing may hang -------------------------------------------------------------------------------


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_quitting_in_mid_bar_releases_everything(lookahead: int) -> None:
    for ms in (1000, 1001, 2260, 2499, 2500, 4990, 5000):
        done = rehearse(
            sketch_setup(), SketchFront(), foot((1000, 1050)), lookaheads=[lookahead], until=ms * MS
        )
        assert silent_at_the_end(done)
        assert len(done.receivers[0].ons()) <= len(done.receivers[0].offs())
        assert max((sent.actual for sent in done.receivers[0].messages), default=0) <= ms * MS + lookahead


def test_ports_are_closed_on_the_way_out() -> None:
    done = rehearse(sketch_setup(ports=2), SketchFront(), foot((1000, 1050)), until=3 * NS_PER_SECOND)
    for port, receiver in zip(done.ports, done.receivers, strict=True):
        before = len(receiver.messages)
        port.hand([Cue(0, Rank.ON, 0, note_on(0, 60, 1))])
        assert len(receiver.messages) == before
    assert done.ledger.state == LEFT


@pytest.mark.parametrize("late", [20 * MS, 150 * MS, 2 * NS_PER_SECOND])
@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_late_wake_ups_drop_late_notes_and_never_an_off(late: int, lookahead: int) -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(), lookaheads=[lookahead])
    rehearsal.clock.lateness = lambda deadline: late if deadline > 2 * NS_PER_SECOND else 0
    rehearsal.play(foot((1000, 1050)))
    rehearsal.run(12 * NS_PER_SECOND)
    head = 5 * NS_PER_SECOND
    ons = rehearsal.receivers[0].ons()
    assert all(sent.actual - sent.ideal <= 100 * MS for sent in ons)
    assert all(sent.actual < head for sent in ons)
    assert (5 * NS_PER_SECOND, "in the tune") in rehearsal.states()
    offs = [sent.ideal for sent in rehearsal.receivers[0].offs()]
    assert len(offs) == len(expected_notes(sketch(), 0)) // 2
    assert silent_at_the_end(rehearsal)


def test_the_offs_of_a_lost_cycle_are_repeated() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(), lookaheads=[30 * MS])
    rehearsal.play(foot((1000, 1050)))
    lost = (
        2_990 * MS,
        3_010 * MS,
    )  # bar 2 begins at 3.0 s: the offs of bar 1's chord are lost, and its own ons
    rehearsal.clock.at(2_985 * MS, lambda: rehearsal.ports[0].lose(*lost))
    sounding: dict[tuple[int, int], int] = {}
    rehearsal.clock.at(3_200 * MS, lambda: sounding.update(rehearsal.receivers[0].sounding))
    rehearsal.run(12 * NS_PER_SECOND)
    assert not any(lost[0] <= sent.actual <= lost[1] for sent in rehearsal.receivers[0].ons())
    # The offs are not repeated: as far as is known the chord was struck again, and its offs are to come.
    assert set(sounding) <= {(1, 52), (1, 55), (1, 59), (2, 36)}
    assert silent_at_the_end(rehearsal)
    assert texts(rehearsal, "lost") == ["synth 1: the system skipped a cycle"]


def test_a_lost_off_is_repeated_at_once() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(), lookaheads=[30 * MS])
    rehearsal.play(foot((1000, 1050)))
    # The melody's note of 1.25 to 1.5 s: its off (and the bass's, struck again at once) falls in the cycle.
    rehearsal.clock.at(1_490 * MS, lambda: rehearsal.ports[0].lose(1_500 * MS, 1_500 * MS))
    rehearsal.run(12 * NS_PER_SECOND)
    melody = [sent for sent in rehearsal.receivers[0].offs() if sent.data[0] & 0x0F == 0]
    assert melody[0].actual < 1_600 * MS
    assert silent_at_the_end(rehearsal)


def test_an_off_that_has_gone_out_is_not_repeated_by_a_silence() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(), lookaheads=[30 * MS])
    # The hold is complete at 2.51 s, but the loop sleeps over it; meanwhile the offs of 2.5 s have gone out.
    rehearsal.clock.lateness = lambda deadline: 20 * MS if deadline == 2_500 * MS else 0
    rehearsal.play(foot((1000, 1050), (2010, 2600)))
    rehearsal.run(8 * NS_PER_SECOND)
    assert [state for _, state in rehearsal.states()] == ["playing", "ready"]
    assert len(rehearsal.receivers[0].offs()) == len(rehearsal.receivers[0].ons())
    assert silent_at_the_end(rehearsal)


def test_a_vanished_port_is_waited_for_and_gets_the_later_notes() -> None:
    rehearsal = Rehearsal(sketch_setup(ports=2), SketchFront(), lookaheads=[0, 0])
    rehearsal.play(foot((1000, 1050)))
    rehearsal.clock.at(2_100 * MS, lambda: rehearsal.ports[0].vanish("unplugged"))
    rehearsal.clock.at(3_600 * MS, rehearsal.ports[0].revive)
    rehearsal.run(12 * NS_PER_SECOND)
    first, second = rehearsal.receivers
    gone = [sent for sent in first.messages if 2_200 * MS < sent.actual < 3_600 * MS]
    assert gone == []
    after = [sent.data for sent in first.messages if sent.actual >= 3_600 * MS]
    # What was owed when it went comes first, then its programs again, then the rest of the intro.
    assert after[:3] == [note_off(1, 52), note_off(1, 55), note_off(1, 59)]
    assert program(0, 26) in after
    assert any(data[0] == 0x90 for data in after)
    bass = [note for note in expected_notes(sketch(), NS_PER_SECOND) if note[1][0] & 0x0F == 2]
    assert [(sent.actual, sent.data) for sent in second.notes()] == bass
    assert texts(rehearsal, "port") == [
        "synth 1: unplugged; waiting for it; the foot-switch works again when it is back",
        "synth 1: back, plays and listens again",
    ]
    assert silent_at_the_end(rehearsal)


def test_a_port_that_never_comes_back_keeps_nobody_waiting() -> None:
    rehearsal = Rehearsal(sketch_setup(ports=2), SketchFront())
    rehearsal.play(foot((1000, 1050)))
    rehearsal.clock.at(2_100 * MS, lambda: rehearsal.ports[0].vanish("unplugged"))
    rehearsal.run(3_000 * MS)
    assert rehearsal.clock.now() == 3_000 * MS
    assert not rehearsal.receivers[1].sounding
    assert rehearsal.ledger.owed(0) != []  # for whoever can still reach it


def test_a_foot_that_was_down_on_a_vanished_port_holds_nothing() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront())
    rehearsal.play([*foot((1000, 1050)), (2000 * MS, control(0, 64, 127))])
    rehearsal.clock.at(2_100 * MS, lambda: rehearsal.ports[0].vanish("unplugged"))
    rehearsal.run(8 * NS_PER_SECOND)
    assert [state for _, state in rehearsal.states()] == ["playing", "in the tune"]


def test_a_foot_switch_that_is_back_is_up_as_far_as_is_known() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront())
    rehearsal.play([(1000 * MS, control(0, 64, 127)), (2000 * MS, control(0, 64, 127))])
    rehearsal.clock.at(1_100 * MS, lambda: rehearsal.ports[0].vanish("unplugged"))
    rehearsal.clock.at(1_500 * MS, rehearsal.ports[0].revive)
    rehearsal.run(8 * NS_PER_SECOND)
    assert rehearsal.states() == [(1000 * MS, "playing"), (2500 * MS, "ready")]


class BrokenPortError(Exception):
    """What a broken port raises."""


@pytest.mark.parametrize("broken", [0, 1])
def test_an_exception_in_a_port_is_raised_after_the_others_are_silent(
    broken: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    rehearsal = Rehearsal(sketch_setup(ports=2), SketchFront())

    def fail(cues: Sequence[object]) -> None:
        raise BrokenPortError

    rehearsal.play(foot((1000, 1050)))
    rehearsal.clock.at(2_100 * MS, lambda: monkeypatch.setattr(rehearsal.ports[broken], "hand", fail))
    with pytest.raises(BrokenPortError):
        rehearsal.run(8 * NS_PER_SECOND)
    assert not rehearsal.receivers[1 - broken].sounding
    assert rehearsal.receivers[1 - broken].ons() != []
    assert rehearsal.ledger.owed(1 - broken) == []
    assert all(port.sent() == [] for port in rehearsal.ports)


@pytest.mark.parametrize("error", [KeyboardInterrupt, ZeroDivisionError])
def test_any_exception_is_raised_after_the_silence(
    error: type[BaseException], monkeypatch: pytest.MonkeyPatch
) -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(), lookaheads=[30 * MS])

    def fail(shown: Shown) -> None:
        raise error

    rehearsal.play(foot((1000, 1050)))
    rehearsal.clock.at(2_100 * MS, lambda: monkeypatch.setattr(rehearsal, "send", fail))
    with pytest.raises(error):
        rehearsal.run(8 * NS_PER_SECOND)
    assert silent_at_the_end(rehearsal)


def test_active_sensing_keeps_within_the_limit_of_the_specification() -> None:
    # MIDI 1.0: once Active Sensing (FEH) has been sent, something must follow at least every 300 ms.
    done = rehearse(sketch_setup(active_sensing=True), SketchFront(), [], until=10 * NS_PER_SECOND)
    times = [sent.actual for sent in done.receivers[0].messages if sent.data == b"\xfe"]
    gaps = [later - earlier for earlier, later in pairwise(times)]
    assert len(times) > 30
    assert max(gaps) <= 250 * MS
    assert times[-1] > 10 * NS_PER_SECOND - 300 * MS
    quiet = rehearse(sketch_setup(active_sensing=False), SketchFront(), [], until=10 * NS_PER_SECOND)
    assert all(sent.data != b"\xfe" for sent in quiet.receivers[0].messages)


def test_the_heartbeat_goes_on_while_nothing_happens() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront())
    beats: list[int] = []
    for ms in range(100, 5_000, 100):
        rehearsal.clock.at(ms * MS, lambda: beats.append(rehearsal.ledger.last_beat("player")))
    rehearsal.run(5 * NS_PER_SECOND)
    # The keeper takes a heart that has stood still for a second for a stopped one.
    assert all(ms * MS - beat <= 250 * MS for ms, beat in zip(range(100, 5_000, 100), beats, strict=True))


def test_what_is_heard_and_sent_is_told_only_for_a_log() -> None:
    script = foot((1000, 1050))
    with_log = rehearse(sketch_setup(log=True), SketchFront(), script, until=8 * NS_PER_SECOND)
    assert [(heard.ns, heard.data) for heard in with_log.heard] == script
    assert with_log.sent == with_log.receivers[0].messages
    without = rehearse(sketch_setup(log=False), SketchFront(), script, until=8 * NS_PER_SECOND)
    assert (without.heard, without.sent) == ([], [])


def test_garbage_changes_nothing() -> None:
    garbage = [
        (ms * MS, data) for ms in range(900, 6_000, 77) for data in (b"", b"\x90", b"\xff\xff", b"\x12\x34")
    ]
    script = sorted([*garbage, *foot((1000, 1050))])
    done = rehearse(sketch_setup(), SketchFront(), script, until=8 * NS_PER_SECOND)
    assert sorted(sounded(done)) == sorted(expected_notes(sketch(), NS_PER_SECOND))


def test_the_same_script_gives_the_same_evening() -> None:
    script = [*key(500, 27), *foot((1000, 1050), (6000, 6050), (6200, 6250), (7000, 7050), (8000, 9000))]
    setup = sketch_setup(ports=2, key_zone=KeyZone())
    one, other = (
        rehearse(setup, SketchFront(count_off=2), script, lookaheads=[0, 20 * MS], until=14 * NS_PER_SECOND)
        for _ in range(2)
    )
    assert one.shown == other.shown
    assert [receiver.messages for receiver in one.receivers] == [
        receiver.messages for receiver in other.receivers
    ]


def test_events_about_ports_that_happen_while_nothing_is_ready() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(refuse=[0, 1]))
    for ms, event in ((100, Gone(0, "unplugged")), (200, Back(0)), (300, Lost(0, 0, 1))):
        rehearsal.put(ms * MS, event)
    rehearsal.run(1 * NS_PER_SECOND)
    assert len(texts(rehearsal, "port")) == 2
    assert len(texts(rehearsal, "lost")) == 1


def test_a_synth_that_vanished_is_owed_to_and_prepared_again_when_it_is_back() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(bars=4), lookaheads=[30 * MS])
    rehearsal.play(foot((1000, 1050)))
    rehearsal.put(2_100 * MS, Unplugged(0, "box:in", True))
    rehearsal.put(3_600 * MS, Plugged(0, "box:in", True))
    rehearsal.run(14 * NS_PER_SECOND)
    messages = rehearsal.receivers[0].messages
    assert [sent for sent in messages if 2_200 * MS < sent.actual < 3_600 * MS] == []
    after = [sent.data for sent in messages if sent.actual >= 3_600 * MS]
    # What the chord owed when the synth went, then all notes off, then programs, then the rest.
    assert note_off(1, 52) in after[:5]
    assert after.index(program(0, 26)) < min(
        place for place, data in enumerate(after) if data[0] & 0xF0 == 0x90
    )
    assert texts(rehearsal, "port") == [
        "synth 1: box:in has gone; waiting for it",
        "synth 1: box:in is back",
    ]
    assert silent_at_the_end(rehearsal)


def test_one_of_two_synths_on_a_port_leaves_the_other_playing() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront())
    rehearsal.play(foot((1000, 1050)))
    rehearsal.put(2_100 * MS, Unplugged(0, "box:in", True, alone=False, waited_for=False))
    rehearsal.put(2_600 * MS, Plugged(0, "new:in", True, alone=False))
    rehearsal.run(12 * NS_PER_SECOND)
    notes = [(sent.actual, sent.data) for sent in rehearsal.receivers[0].notes()]
    assert sorted(notes) == sorted(expected_notes(sketch(), NS_PER_SECOND))
    assert texts(rehearsal, "port") == [
        "synth 1: box:in is not connected any more",
        "synth 1: new:in is connected",
    ]


def test_pulling_a_foot_switch_that_is_down_holds_nothing() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(bars=4))
    rehearsal.play(foot((1000, 1050)))
    rehearsal.play([(2_000 * MS, control(0, 64, 127))])
    rehearsal.put(2_200 * MS, Unplugged(0, "foot:out", False))
    rehearsal.run(5 * NS_PER_SECOND)
    assert [state for _, state in rehearsal.states()] == ["playing"]


def test_what_the_front_plays_is_logged_with_its_time() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront())
    rehearsal.say(1000 * MS, Played(0, control(0, 64, 127)))
    rehearsal.run(2 * NS_PER_SECOND)
    (heard,) = rehearsal.heard
    assert heard.ns >= 1000 * MS


def test_a_first_key_is_wanted_and_one_that_is_refused_gives_way_to_the_tunes_own() -> None:
    setup = sketch_setup(first_tune=1, first_tonic=9, first_minor=True)
    rehearsal = Rehearsal(setup, SketchFront(refuse_tonics=[9]))
    rehearsal.run(NS_PER_SECOND)
    assert rehearsal.wanted == [Wanted(Request(1, 9, True)), Wanted(Request(1))]
    shown = [one for one in rehearsal.shown if one.what == "key"]
    assert [(one.tune, one.tonic, one.minor) for one in shown] == [(1, None, None)]


def lose_cycle(rehearsal: Rehearsal, start: int, end: int) -> None:
    """What sounds within [start, end) never arrives though told as sent; two cycles on `Lost` is."""
    port, receiver = rehearsal.ports[0], rehearsal.receivers[0]
    port._listener = lambda sent: None if start <= sent.actual < end else receiver(sent)
    rehearsal.clock.at(2 * end - start, lambda: port.lose(start, end))


def test_the_offs_of_a_silence_that_fall_in_a_lost_cycle_are_repeated() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(bars=4), lookaheads=[30 * MS])
    rehearsal.play(foot((1000, 1050), (2_100, 2_700)))
    lose_cycle(rehearsal, 2_600 * MS, 2_603 * MS)
    sounding: dict[tuple[int, int], int] = {}
    rehearsal.clock.at(2_750 * MS, lambda: sounding.update(rehearsal.receivers[0].sounding))
    rehearsal.run(4 * NS_PER_SECOND)
    assert (2_600 * MS, "ready") in rehearsal.states()
    assert not any(sounding.values())


def test_the_last_offs_are_repeated_when_their_cycle_is_lost() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(bars=4), lookaheads=[30 * MS])
    rehearsal.ports[0].latency = 3 * MS  # a period
    rehearsal.play(foot((1000, 1050)))
    lose_cycle(rehearsal, 2_100 * MS, 2_103 * MS)
    rehearsal.run(2_100 * MS)
    assert silent_at_the_end(rehearsal)
    assert rehearsal.clock.now() < 2_350 * MS


def test_what_the_front_still_says_is_read_on_the_way_out() -> None:
    """Unread it would end every wait: a loop that spins keeps JACK's callback from the interpreter."""
    rehearsal = Rehearsal(sketch_setup(), SketchFront(bars=4), lookaheads=[30 * MS])
    rehearsal.ports[0].latency = 3 * MS
    rehearsal.play(foot((1000, 1050)))
    rehearsal.say(2_110 * MS, Refused(Request(1), "too late"))
    rehearsal.run(2_100 * MS)
    assert rehearsal.receive() == []


# --- a landing that rings, and a playing afresh ------------------------------------------------------


class RingingFront(SketchFront):
    """Sketches whose last chord is struck again on the head's downbeat and rings for two beats."""

    def performance(self, request: Request) -> Performance:
        plain = super().performance(request)
        head = plain.head_tick
        ring = PlayedNote(head, head + 2 * TICKS_PER_QUARTER, head, PARTS.index("comp"), 60, 70)
        return replace(plain, notes=(*plain.notes, ring), end_tick=ring.end)


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_landing_rings_on_over_the_downbeat_while_the_tune_goes_on(lookahead: int) -> None:
    script = foot((1000, 1100))
    done = rehearse(sketch_setup(), RingingFront(), script, lookaheads=[lookahead], until=12 * NS_PER_SECOND)
    head = NS_PER_SECOND + 8 * 500 * MS
    assert done.states() == [(NS_PER_SECOND, "playing"), (head, "in the tune")]
    assert max(sent.actual for sent in done.receivers[0].ons()) == head
    assert max(sent.actual for sent in done.receivers[0].offs()) == head + 2 * 500 * MS
    assert silent_at_the_end(done)


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_start_while_a_landing_rings_silences_it_first(lookahead: int) -> None:
    slow = RingingFront(tempo=40)  # a ring of three seconds
    head_ms = 1000 + 8 * 1500
    script = foot((1000, 1100), (head_ms + 1600, head_ms + 2300), (head_ms + 2500, head_ms + 2600))
    done = rehearse(sketch_setup(), slow, script, lookaheads=[lookahead], until=30 * NS_PER_SECOND)
    again = [ns for ns, state in done.states() if state == "playing"][1]
    assert again < (head_ms + 3000) * MS  # while it would still ring
    ring = note_off(1, 60)
    assert any(sent.data == ring and head_ms * MS < sent.actual <= again for sent in done.receivers[0].offs())
    assert silent_at_the_end(done)


def test_what_was_played_is_asked_for_afresh_and_a_press_plays_the_new_one() -> None:
    class Afresh(SketchFront):
        asked = 0

        def performance(self, request: Request) -> Performance:
            self.asked += 1
            return replace(super().performance(request), intro=f"sketch {self.asked}")

    double = foot((6000, 6050), (6200, 6250))
    done = rehearse(sketch_setup(tunes=1), Afresh(), [*foot((1000, 1050)), *double], until=9 * NS_PER_SECOND)
    assert [shown.intro for shown in done.shown if shown.state == "playing" and shown.what == "state"] == [
        "sketch 1"
    ]
    assert done.shown[-1].intro == "sketch 2"
