"""Practising: what follows begins by itself, to the tick; a round that may be left at several places."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.live.events import Following, Ordered, Quit
from introit.live.setup import ClockLead
from introit.live.states import Order
from introit.performance import Performance, PlayedNote
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.testing.outcome import ends_in_silence, states
from introit.testing.script import feet
from introit.testing.sketch import BASS, sketch
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

MS = NS_PER_MS
BAR = 4 * TICKS_PER_QUARTER
BAR_MS = 2_000
"""At 120."""
LOOKAHEADS = (0, 50 * MS)


def a_pass(
    tonic: int = 0, *, tempo: float = 120, count_off: int = 0, bars: int = 2, rest: int = 1
) -> Performance:
    one = sketch(tonic, tempo=tempo, count_off=count_off, bars=bars)
    fields = {name: getattr(one, name) for name in one.__slots__}
    return Performance(**(fields | {"rest": rest * BAR}))


def evening(
    *following: tuple[int, Performance | None],
    rest: int = 1,
    lookahead: int = 0,
    presses: Any = (),
    seconds: int = 40,
    **changes: Any,
) -> Rehearsal:
    """Two bars of four at 120, pressed at 1 s, and a rest; what follows is told at its millisecond."""
    front = SketchFront(bars=2, count_off=0, changes={"rest": rest * BAR})
    rehearsal = Rehearsal(sketch_setup(**changes), front, lookaheads=(lookahead,))
    rehearsal.play(feet(1000, *presses))
    for number, (ms, performance) in enumerate(following, 2):
        rehearsal.say(ms * MS, Following(performance, number))
    rehearsal.run(seconds * NS_PER_SECOND)
    return rehearsal


def bass(rehearsal: Rehearsal) -> list[tuple[float, int]]:
    """Milliseconds and pitch of each bass note, as it sounded."""
    route = next(route for route in rehearsal.setup.routes if route.part == BASS)
    return [
        (sent.actual / MS, sent.data[1])
        for sent in rehearsal.sent
        if sent.data[0] == 0x90 | route.channel and sent.data[2]
    ]


@pytest.mark.parametrize("lookahead", LOOKAHEADS)
def test_what_follows_begins_a_rest_after_the_head_exactly(lookahead: int) -> None:
    heard = evening((2_000, a_pass(5, tempo=150)), (6_500, None), lookahead=lookahead, seconds=20)
    second = 1_000 + 3 * BAR_MS
    assert bass(heard) == [
        *((1_000 + 500 * beat, 36) for beat in range(8)),
        *((second + 400 * beat, 41) for beat in range(8)),
    ]
    assert [state for _, state in states(heard)] == [
        "practising",
        "resting",
        "practising",
        "resting",
        "ready",
    ]
    assert ends_in_silence(heard)


@pytest.mark.parametrize("lookahead", LOOKAHEADS)
def test_its_count_off_begins_where_the_rest_ends(lookahead: int) -> None:
    heard = evening((2_000, a_pass(5, count_off=4)), (12_000, None), lookahead=lookahead, seconds=25)
    begins = 1_000 + 3 * BAR_MS + BAR_MS
    assert bass(heard)[8][0] == begins
    assert (begins / 1_000, "practising") in states(heard)


@pytest.mark.parametrize("lookahead", LOOKAHEADS)
@pytest.mark.parametrize(("beats", "sounds"), [(2, 2), (3, 3), (4, 4), (9, 4)])
def test_a_landing_rings_as_long_as_it_is_told_or_until_what_follows(
    lookahead: int, beats: int, sounds: int
) -> None:
    """What follows is made ready a beat before it begins; that ends nothing."""
    one = sketch(bars=2, count_off=0)
    head = one.head_tick
    chord = PlayedNote(head, head + beats * TICKS_PER_QUARTER, head, BASS, 48, 90)
    front = SketchFront(
        bars=2,
        count_off=0,
        changes={
            "rest": BAR,
            "notes": (*one.notes, chord),
            "end_tick": head + beats * TICKS_PER_QUARTER,
        },
    )
    rehearsal = Rehearsal(sketch_setup(), front, lookaheads=(lookahead,))
    rehearsal.play(feet(1000))
    rehearsal.say(2_000 * MS, Following(a_pass(5), 2))
    rehearsal.run(20 * NS_PER_SECOND)
    landed = 1_000 + 2 * BAR_MS
    route = next(route for route in rehearsal.setup.routes if route.part == BASS)
    rung = [
        (sent.data[0] & 0xF0 == 0x90, sent.actual / MS)
        for sent in rehearsal.sent
        if sent.data[0] & 0x0F == route.channel and sent.data[0] & 0xE0 == 0x80 and sent.data[1] == 48
    ]
    assert rung == [(True, landed), (False, landed + 500 * sounds)]
    assert bass(rehearsal)[9] == (landed + BAR_MS, 41)
    assert ends_in_silence(rehearsal)


@pytest.mark.parametrize("at", [6_600, 6_900], ids=["what follows is ready", "a moment before it begins"])
def test_a_stop_ends_what_rings_into_the_next_pass(at: int) -> None:
    one = sketch(bars=2, count_off=0)
    head = one.head_tick
    chord = PlayedNote(head, head + BAR, head, BASS, 48, 90)
    changes = {"rest": BAR, "notes": (*one.notes, chord), "end_tick": head + BAR}
    front = SketchFront(bars=2, count_off=0, changes=changes)
    rehearsal = Rehearsal(sketch_setup(), front, lookaheads=(0,))
    rehearsal.play(feet(1000))
    rehearsal.say(2_000 * MS, Following(a_pass(5), 2))
    rehearsal.say(at * MS, Ordered(str(Order.SILENCE)))
    rehearsal.run(20 * NS_PER_SECOND)
    assert bass(rehearsal)[-1] == (1_000 + 2 * BAR_MS, 48)
    assert ends_in_silence(rehearsal)


def test_nothing_told_is_the_same_again_and_nothing_more_ends_it() -> None:
    heard = evening((20_000, None), seconds=40)
    firsts = [ms for ms, _ in bass(heard)][::8]
    assert firsts == [1_000 + 3 * BAR_MS * number for number in range(4)]
    assert states(heard)[-1][1] == "ready"
    assert ends_in_silence(heard)


def test_what_is_told_until_the_last_beat_of_the_rest_follows() -> None:
    last = 1_000 + 3 * BAR_MS - 500
    in_time = evening((2_000, a_pass(5)), (last - 1, a_pass(7)), seconds=9)
    assert bass(in_time)[8][1] == 36 + 7
    too_late = evening((2_000, a_pass(5)), (last + 1, a_pass(7)), seconds=16)
    assert [pitch for _, pitch in bass(too_late)][8::8] == [36 + 5, 36 + 7]


def test_the_same_pass_told_too_late_is_not_played_after_itself() -> None:
    last = 1_000 + 3 * BAR_MS - 500
    heard = evening(seconds=16)
    assert len({pitch for _, pitch in bass(heard)}) == 1
    front = SketchFront(bars=2, count_off=0, changes={"rest": BAR})
    rehearsal = Rehearsal(sketch_setup(), front, lookaheads=(0,))
    rehearsal.play(feet(1000))
    for ms, performance in ((2_000, a_pass(5)), (last + 1, a_pass(7))):
        rehearsal.say(ms * MS, Following(performance, 2))
    rehearsal.run(16 * NS_PER_SECOND)
    assert [pitch for _, pitch in bass(rehearsal)][8::8] == [36 + 5, 36 + 5]


def test_a_press_is_told_with_its_time_and_moves_no_note() -> None:
    plain, marked = evening(seconds=20), evening(seconds=20, presses=(2_345, 5_600))
    assert bass(plain) == bass(marked)
    assert [shown.ns for shown in marked.shown if shown.what == "mark"] == [2_345 * MS, 5_600 * MS]


@pytest.mark.parametrize("at", [3_000, 5_700, 6_800], ids=["practising", "resting", "last beat of the rest"])
def test_silence_ends_it_and_nothing_begins_by_itself(at: int) -> None:
    front = SketchFront(bars=2, count_off=0, changes={"rest": BAR})
    rehearsal = Rehearsal(sketch_setup(), front, lookaheads=(50 * MS,))
    rehearsal.play(feet(1000))
    rehearsal.say(at * MS, Ordered(str(Order.SILENCE)))
    rehearsal.run(30 * NS_PER_SECOND)
    assert all(ms <= at for ms, _ in bass(rehearsal))
    assert states(rehearsal)[-1][1] == "ready"
    assert ends_in_silence(rehearsal)


def test_a_practice_within_an_evening_leaves_it_as_it_was() -> None:
    """It is made ready between two intros, goes from pass to pass, and after it the intro is ready again."""
    front = SketchFront(bars=2, count_off=0)
    rehearsal = Rehearsal(sketch_setup(), front, lookaheads=(0,))
    rehearsal.play(feet(1_000, 7_200, 7_400, 10_000, 30_000))  # an intro; once more; a pass; an intro again
    rehearsal.say(8_000 * MS, Following(replace(a_pass(5), number=1), 1))
    rehearsal.say(11_000 * MS, Following(replace(a_pass(7), number=2), 2))
    rehearsal.say(17_000 * MS, Ordered(str(Order.SILENCE)))  # in the second pass
    rehearsal.say(18_000 * MS, Following(sketch(0, bars=2, count_off=0), 0))
    rehearsal.run(40 * NS_PER_SECOND)
    begun = [(ms, pitch - 36) for ms, pitch in bass(rehearsal)]
    assert begun[:8] == [(1_000 + 500 * beat, 0) for beat in range(8)]
    assert begun[8:16] == [(10_000 + 500 * beat, 5) for beat in range(8)]
    assert begun[16] == (16_000, 7)
    assert begun[-8:] == [(30_000 + 500 * beat, 0) for beat in range(8)]
    assert [state for second, state in states(rehearsal) if second > 29] == ["playing", "in the tune"]
    assert ends_in_silence(rehearsal)


STOPS = pytest.mark.parametrize(
    "at", [5_700, 7_300, 8_000, 8_800], ids=["rest", "begun", "lead-in", "before the downbeat"]
)
"""What follows had begun a beat before its lead-in, at 6.5 s."""


def stopped_at(at: int, *told: tuple[int, Performance]) -> Rehearsal:
    """A stop while the first pass rests, and a press at 12 s."""
    front = SketchFront(bars=2, count_off=0, changes={"rest": BAR})
    rehearsal = Rehearsal(sketch_setup(), front, lookaheads=(0,))
    rehearsal.play(feet(1000, 12_000))
    rehearsal.say(2_000 * MS, Following(replace(a_pass(5, count_off=4), number=2), 2))
    rehearsal.say(at * MS, Ordered(str(Order.SILENCE)))
    for ms, performance in told:
        rehearsal.say(ms * MS, Following(performance, performance.number))
    rehearsal.run(21 * NS_PER_SECOND)
    assert ends_in_silence(rehearsal)
    return rehearsal


@STOPS
def test_a_stop_in_a_rest_makes_what_follows_ready(at: int) -> None:
    """The pass that has landed is over."""
    heard = stopped_at(at)
    ready = next(shown for shown in heard.shown if shown.state == "ready" and shown.ns >= at * MS)
    assert (ready.number, ready.tonic) == (2, 5)
    assert [note for note in bass(heard) if note[0] > at][:8] == [
        (14_000 + 500 * beat, 36 + 5) for beat in range(8)
    ]


@STOPS
def test_what_is_told_after_a_stop_is_ready_in_its_place(at: int) -> None:
    """The press that began the hold was heard as a mark, and is taken back."""
    heard = stopped_at(at, (at + 5, replace(a_pass(7), number=2)))
    assert [note for note in bass(heard) if note[0] > at][:8] == [
        (12_000 + 500 * beat, 36 + 7) for beat in range(8)
    ]
    assert [shown.tonic for shown in heard.shown if shown.what == "key"][-1] == 7


def test_what_comes_only_after_the_stop_is_ready_all_the_same() -> None:
    front = SketchFront(bars=2, count_off=0, changes={"rest": BAR})
    rehearsal = Rehearsal(sketch_setup(), front, lookaheads=(0,))
    rehearsal.play(feet(1000, 12_000))
    rehearsal.say(5_001 * MS, Ordered(str(Order.SILENCE)))
    rehearsal.say(5_010 * MS, Following(a_pass(5), 2))
    rehearsal.run(15 * NS_PER_SECOND)
    assert bass(rehearsal)[8] == (12_000, 36 + 5)


def test_a_stop_while_it_plays_leaves_the_same_pass_ready() -> None:
    front = SketchFront(bars=2, count_off=0, changes={"rest": BAR})
    rehearsal = Rehearsal(sketch_setup(), front, lookaheads=(0,))
    rehearsal.play(feet(1000, 22_000))
    rehearsal.say(2_000 * MS, Following(a_pass(5), 2))
    rehearsal.say(8_000 * MS, Ordered(str(Order.SILENCE)))  # in the second pass
    rehearsal.run(25 * NS_PER_SECOND)
    assert bass(rehearsal)[-1][1] == 36 + 5
    assert next(ms for ms, _ in bass(rehearsal) if ms > 8_000) == 22_000


def test_each_pass_is_told_with_its_number() -> None:
    second, third = (replace(a_pass(tonic, count_off=4), number=number) for number, tonic in ((2, 5), (3, 7)))
    heard = evening((2_000, second), (10_000, third), seconds=24)
    begun = [shown.number for shown in heard.shown if shown.what == "state" and shown.state == "practising"]
    assert begun == [0, 2, 3]
    leads_in = [shown.number for shown in heard.shown if shown.state == "resting" and shown.what == "beat"]
    assert leads_in[:8] == [2, 2, 2, 2, 3, 3, 3, 3]


def test_a_press_in_the_first_beat_is_the_nervous_end_of_the_one_that_began() -> None:
    heard = evening(seconds=4, presses=(1_300, 1_600))
    assert [shown.ns for shown in heard.shown if shown.what == "mark"] == [1_600 * MS]


def test_after_a_leaders_clock_each_pass_goes_in_its_own_time() -> None:
    """The first pass keeps to the leader at 100; the second, in the leader's clocks still, to its own 120."""
    front = SketchFront(bars=2, count_off=0, changes={"rest": BAR})
    rehearsal = Rehearsal(sketch_setup(follow=0), front, lookaheads=(0,))
    clocks = [(round(200 + number * 25) * MS, b"\xf8") for number in range(1_200)]
    rehearsal.play(sorted([(199 * MS, b"\xfa"), *feet(3_000), *clocks]))
    rehearsal.run(25 * NS_PER_SECOND)
    notes = [ms for ms, _ in bass(rehearsal)]
    gaps = [later - before for before, later in pairwise(notes[8:16])]
    assert notes[1] - notes[0] == pytest.approx(600, abs=3)
    assert gaps == pytest.approx([500] * 7, abs=0.01)


def test_who_plays_by_our_clock_is_stopped_and_started_with_each_pass() -> None:
    heard = evening(seconds=16, lead=ClockLead(0, "intro"))
    starts = [sent.actual for sent in heard.sent if sent.data == b"\xfa"]
    told = [sent.data for sent in heard.sent if sent.data in (b"\xfa", b"\xfc")]
    assert told == [b"\xfa", b"\xfc"] * len(starts)
    assert len(starts) >= 2
    # Start comes before the first clock, by a 24th of a beat at most: it cannot at the press.
    early = [(1_000 + 3 * BAR_MS * number) * MS - at for number, at in enumerate(starts)]
    assert early[0] == 0
    assert all(0 <= ns <= 21 * MS for ns in early)


@given(
    rest=st.integers(1, 4),
    lookahead=st.sampled_from([0, 3 * MS, 150 * MS]),
    tempi=st.lists(st.sampled_from([60, 97, 120, 203, 300]), min_size=1, max_size=6),
    count=st.sampled_from([0, 4]),
)
def test_passes_lie_behind_each_other_without_drift(
    rest: int, lookahead: int, tempi: list[int], count: int
) -> None:
    """Each begins where the one before, its rest and its own count-off end."""
    front = SketchFront(bars=2, count_off=0, changes={"rest": rest * BAR})
    rehearsal = Rehearsal(sketch_setup(), front, lookaheads=(lookahead,))
    rehearsal.play(feet(1000))
    ideal, told = 1_000.0, 1_500.0
    expected = [ideal]
    ideal += (2 + rest) * BAR_MS
    for tempo in tempi:
        rehearsal.say(
            round(told * MS), Following(a_pass(5, tempo=tempo, count_off=count, rest=rest), len(expected))
        )
        beat = 60_000 / tempo
        told = ideal + count * beat + 50
        expected.append(ideal + count * beat)
        ideal += (count + (2 + rest) * 4) * beat
    rehearsal.say(round(told * MS), Following(None, 99))
    rehearsal.run(round((ideal + 5_000) * MS))
    assert [ms for ms, _ in bass(rehearsal)][::8] == pytest.approx(expected, abs=0.001)
    assert ends_in_silence(rehearsal)


# --- exits ----------------------------------------------------------------------------------------------


def round_with_exits(*presses: int, seconds: int = 60) -> Rehearsal:
    """A bar before, three times two bars that go round, a bar behind them: 8 bars of two seconds."""
    changes = {"vamp": (BAR, 7 * BAR), "exits": (3 * BAR, 5 * BAR)}
    rehearsal = Rehearsal(sketch_setup(), SketchFront(bars=8, count_off=0, changes=changes), lookaheads=(0,))
    rehearsal.play(feet(1000, *presses))
    rehearsal.run(seconds * NS_PER_SECOND)
    return rehearsal


@pytest.mark.parametrize(
    ("press", "bars"), [(2_500, 4), (5_000, 4), (7_500, 6), (12_000, 8), (17_000, 10), (20_500, 12)]
)
def test_the_nod_leaves_at_the_next_exit(press: int, bars: int) -> None:
    """In the bar before and the first two, after two bars; and so on, round and round."""
    heard = round_with_exits(press)
    landed = next(second for second, state in states(heard) if state == "in the tune")
    assert landed == 1 + bars * BAR_MS / 1_000
    assert len(bass(heard)) == 4 * bars
    assert ends_in_silence(heard)


def test_after_the_nod_the_way_to_the_head_is_counted_from_there() -> None:
    heard = round_with_exits(5_000)
    beats = [shown for shown in heard.shown if shown.what == "beat" and shown.state == "playing"]
    assert [shown.beats_to_head for shown in beats] == list(range(len(beats), 0, -1))


def test_without_a_nod_it_goes_round() -> None:
    heard = round_with_exits(seconds=33)
    assert {state for _, state in states(heard)} == {"vamping"}
    assert [ms for ms, _ in bass(heard)] == [1_000 + 500 * beat for beat in range(len(bass(heard)))]


def test_a_following_can_be_told_to_quit() -> None:
    rehearsal = Rehearsal(
        sketch_setup(), SketchFront(bars=2, count_off=0, changes={"rest": BAR}), lookaheads=(0,)
    )
    rehearsal.play(feet(1000))
    rehearsal.say(5_400 * MS, Quit("enough"))
    rehearsal.run(10 * NS_PER_SECOND)
    assert max(ms for ms, _ in bass(rehearsal)) < 5_400
    assert ends_in_silence(rehearsal)
