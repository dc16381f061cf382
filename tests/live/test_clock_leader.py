"""Clocks fall where the timeline says, Start before the first; whatever comes, a listener's count is right.

The listener here is the MIDI 1.0 Detailed Specification's receiver: after Start the next clock is song
position 0, after Continue the next clock is the position it stands at; Song Position (in sixteenths of six
clocks) moves one that stands still; clocks that come while it stands still move nothing.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import count, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from introit.live.clock_leader import AFTER_START_NS, ClockLeader
from introit.live.cue import Cue, Rank
from introit.live.messages import CLOCK, CONTINUE, START, STOP, SystemMessage, parse, song_position
from introit.live.timeline import Timeline
from introit.units import NS_PER_MS, NS_PER_SECOND, ns_per_tick

BEGIN = 50 * NS_PER_SECOND
TICKS = 40  # 960 a quarter by 24 clocks a quarter
BAR = 4 * 960


def timeline(tempo: float = 120, first: int = -BAR) -> Timeline:
    return Timeline.starting(first, BEGIN, ns_per_tick(tempo))


def leader(line: Timeline, *, first: int = -BAR, origin: int = 0, lookahead: int = 0) -> ClockLeader:
    return ClockLeader(line, first=first, origin=origin, lookahead=lookahead, sequence=count().__next__)


def play(one: ClockLeader, until: int) -> list[Cue]:
    """Everything until a time, taken exactly when it is due."""
    cues: list[Cue] = []
    while (due := one.next_due) is not None and due <= until:
        cues += one.take(due)
    return cues


class Listener:
    """The specification's receiver; hears each cue when it is told to."""

    def __init__(self) -> None:
        self.runs = False
        self.position = 0
        self.at: list[tuple[int, int]] = []

    def hear(self, cue: Cue, ns: int) -> None:
        message = parse(cue.data)
        assert isinstance(message, SystemMessage)
        if cue.data == CLOCK:
            if self.runs:
                self.at.append((ns, self.position))
                self.position += 1
        elif cue.data == START:
            self.runs, self.position = True, 0
        elif cue.data == CONTINUE:
            self.runs = True
        elif cue.data == STOP:
            self.runs = False
        else:
            assert not self.runs, "Song Position to a listener that runs"
            self.position = (message.data[1] | message.data[2] << 7) * 6


def listened(cues: list[Cue]) -> Listener:
    listener = Listener()
    for cue in sorted(cues):
        listener.hear(cue, cue.ns)
    return listener


@pytest.mark.parametrize("tempo", [30, 61.7, 120, 400])
@pytest.mark.parametrize("origin", [0, 2 * BAR])
def test_the_first_clock_after_start_falls_on_the_downbeat(tempo: float, origin: int) -> None:
    line = timeline(tempo)
    downbeat = line.ns(origin)
    assert downbeat is not None
    cues = play(leader(line, origin=origin), downbeat + 3 * NS_PER_SECOND)
    kinds = [cue.data for cue in cues]
    at = kinds.index(START)
    assert kinds[:at] == [CLOCK] * (
        24 * 4 * (1 + origin // BAR)
    )  # a bar of count-off, and what comes between
    assert cues[at + 1].data == CLOCK
    assert cues[at + 1].ns == downbeat
    gaps = [after.ns - before.ns for before, after in pairwise(cues[at - 1 : at + 2])]
    assert min(gaps) >= AFTER_START_NS
    assert abs(gaps[0] - gaps[1]) <= 1
    assert kinds.count(START) == 1
    assert set(kinds[at + 1 :]) == {CLOCK}


def test_ten_minutes_of_clocks_do_not_drift() -> None:
    # 132.3 to the minute for ten minutes is 1323 quarters: arithmetic.
    cues = play(leader(timeline(132.3)), BEGIN + 600 * NS_PER_SECOND)
    assert sum(cue.data == CLOCK for cue in cues) == 1323 * 24 + 1
    assert cues[-1].ns == BEGIN + 600 * NS_PER_SECOND


def test_a_clock_goes_before_a_note_of_its_instant() -> None:
    assert min(Rank) is Rank.REAL_TIME
    clock = leader(timeline()).take(BEGIN)[0]
    assert sorted([Cue(BEGIN, Rank.OFF, 0, b""), Cue(BEGIN, Rank.ON, 0, b""), clock])[0] is clock


def test_without_a_count_off_start_goes_out_at_once_and_its_clock_a_millisecond_later() -> None:
    cues = play(leader(timeline(first=0), first=0), BEGIN + 100 * NS_PER_MS)
    assert [cue.data for cue in cues[:3]] == [START, CLOCK, CLOCK]
    assert cues[0].ns <= BEGIN
    one = leader(timeline(first=0), first=0)
    assert [cue.data for cue in one.take(BEGIN)] == [START]
    assert one.next_due == BEGIN + NS_PER_MS
    cues = play(one, BEGIN + NS_PER_SECOND)
    assert cues[0].ns == BEGIN + NS_PER_MS
    assert cues[1].ns == BEGIN + round(40 * ns_per_tick(120))


def test_a_lookahead_hands_out_earlier_the_same_cues() -> None:
    ahead, at_once = (
        play(leader(timeline(), lookahead=ms * NS_PER_MS), BEGIN + 5 * NS_PER_SECOND) for ms in (50, 0)
    )
    assert [(cue.ns, cue.data) for cue in ahead][: len(at_once)] == [(cue.ns, cue.data) for cue in at_once]
    assert len(ahead) == len(at_once) + 2  # 50 ms at 120


def test_stop_comes_after_all_that_was_handed_and_ends_it() -> None:
    one = leader(timeline(), lookahead=50 * NS_PER_MS)
    cues = play(one, BEGIN + 4 * NS_PER_SECOND)
    (stop,) = one.stop(BEGIN + 4 * NS_PER_SECOND)
    assert stop.data == STOP
    assert stop > max(cues)
    assert one.next_due is None
    assert one.take(BEGIN + 9 * NS_PER_SECOND) == one.stop(BEGIN + 9 * NS_PER_SECOND) == ()
    early = leader(timeline())
    play(early, BEGIN + NS_PER_SECOND)
    assert early.stop(BEGIN + NS_PER_SECOND) == ()  # Start never was


def test_another_tempo_beyond_the_horizon() -> None:
    line = timeline()
    one = leader(line)
    cues = play(one, BEGIN + 4 * NS_PER_SECOND)
    one.timeline = line.retime(BAR, ns_per_tick(90))
    cues += play(one, BEGIN + 12 * NS_PER_SECOND)
    for ns, position in listened(cues).at:
        assert ns == one.timeline.ns(position * TICKS)


def test_a_hold_stops_the_listener_and_the_release_takes_it_on() -> None:
    line = timeline().hold(BAR)
    arrived = timeline().ns(BAR)
    assert arrived is not None
    one = leader(line)
    cues = play(one, BEGIN + 60 * NS_PER_SECOND)
    assert (cues[-1].data, cues[-1].ns) == (STOP, arrived)
    assert one.next_due is None
    released = BEGIN + 61 * NS_PER_SECOND
    one.timeline = line.release(released, ns_per_tick(100))
    taken = list(one.take(released))
    assert [cue.data for cue in taken] == [CONTINUE]
    cues += taken + play(one, released + NS_PER_SECOND)
    listener = listened(cues)
    assert [position for _, position in listener.at] == list(range(len(listener.at)))
    assert (released + NS_PER_MS, 96) in listener.at
    assert listener.at[-1][0] == one.timeline.ns(listener.at[-1][1] * TICKS)


def test_a_little_late_the_listener_catches_up_at_double_speed() -> None:
    line = timeline()
    one = leader(line)
    play(one, BEGIN + 3 * NS_PER_SECOND)
    now = BEGIN + 3 * NS_PER_SECOND + 110 * NS_PER_MS  # five clocks of 20.8 ms; a sixteenth is 125
    sent = []
    while now < BEGIN + 4 * NS_PER_SECOND:
        sent += [(now, cue.data) for cue in one.take(now)]
        assert one.next_due is not None
        now = max(now, one.next_due)
    assert {data for _, data in sent} == {CLOCK}
    gaps = [after - before for (before, _), (after, _) in pairwise(sent)]
    assert min(gaps) >= 10 * NS_PER_MS  # half of 20.8
    late = [gap for gap in gaps if gap < 20 * NS_PER_MS]
    assert 4 <= len(late) <= 11
    assert gaps[-1] == pytest.approx(20.833 * NS_PER_MS, rel=0.001)


def test_long_late_the_listener_is_told_where_it_is() -> None:
    line = timeline()
    one = leader(line)
    cues = play(one, BEGIN + 3 * NS_PER_SECOND)
    now = BEGIN + 5 * NS_PER_SECOND + 1
    taken = list(one.take(now))
    assert [cue.data for cue in taken][:2] == [STOP, song_position(25)]  # 3 s after Start is 24 sixteenths
    cues += taken + play(one, now + NS_PER_SECOND)
    after = [(ns, position) for ns, position in listened(cues).at if ns > now]
    assert after[0] == (line.ns(25 * 240), 150)
    assert all(ns == line.ns(position * TICKS) for ns, position in after)


def test_late_for_the_downbeat_itself() -> None:
    line = timeline()
    one = leader(line)
    play(one, BEGIN + NS_PER_SECOND)
    now = BEGIN + 3 * NS_PER_SECOND
    assert [cue.data for cue in one.take(now)] == [song_position(9)]
    after = listened([Cue(now, Rank.REAL_TIME, -1, song_position(9)), *play(one, now + NS_PER_SECOND)]).at
    assert after[0] == (line.ns(9 * 240), 54)


def test_a_listener_that_was_just_plugged_in_is_told() -> None:
    line = timeline()
    one = leader(line, lookahead=30 * NS_PER_MS)
    play(one, BEGIN + 7 * NS_PER_SECOND)
    one.locate(BEGIN + 7 * NS_PER_SECOND)
    new = listened(play(one, BEGIN + 8 * NS_PER_SECOND))
    assert new.at
    assert all(ns == line.ns(position * TICKS) for ns, position in new.at)


def test_before_the_song_there_is_nothing_to_tell() -> None:
    one = leader(timeline())
    play(one, BEGIN + NS_PER_SECOND)
    due = one.next_due
    one.locate(BEGIN + NS_PER_SECOND)
    assert one.next_due == due


@settings(deadline=None, max_examples=25)
@given(
    st.floats(30, 400),
    st.sampled_from([0, 5, 40]),
    st.lists(
        st.tuples(st.integers(0, 1_500 * NS_PER_MS), st.sampled_from(["take", "take", "hold", "locate"])),
        max_size=40,
    ),
)
def test_whatever_comes_late_the_count_is_right_in_the_end(
    tempo: float, lookahead_ms: int, calls: list[tuple[int, str]]
) -> None:
    line, now = timeline(tempo), BEGIN
    lookahead = lookahead_ms * NS_PER_MS
    one, listener = leader(line, lookahead=lookahead), Listener()
    handed: list[tuple[int, Cue]] = []
    for wait, what in calls:
        now += wait
        handed += [(now, cue) for cue in one.take(now)]
        if what == "hold" and line.segments[-1].ns <= now + lookahead:
            tick = line.tick(now + lookahead) + 1
            line = line.hold(tick).release(now + lookahead + 700 * NS_PER_MS, ns_per_tick(tempo))
            one.timeline = line
        elif what == "locate":
            one.locate(now)
    end = max(now, line.segments[-1].ns, BEGIN + 8 * NS_PER_SECOND) + 3 * NS_PER_SECOND
    while (due := one.next_due) is not None and max(due, now) < end:
        now = max(due, now)
        taken = one.take(now)
        assert taken
        handed += [(now, cue) for cue in taken]
    sent = [max(at, cue.ns) for at, cue in handed]
    clocks = [ns for ns, (_, cue) in zip(sent, handed, strict=True) if cue.data == CLOCK]
    least = float(20 * ns_per_tick(tempo)) - 2
    crowded = sum(after - before < least for before, after in pairwise(clocks))
    assert crowded <= sum(what == "locate" for _, what in calls) + len(calls)
    for ns, (_, cue) in sorted(
        zip(sent, handed, strict=True), key=lambda pair: (pair[0], pair[1][1].sequence)
    ):
        listener.hear(cue, ns)
    last, position = listener.at[-1]
    assert last == line.ns(position * TICKS)


def test_song_position_is_fourteen_bits_low_seven_first() -> None:
    assert song_position(0) == b"\xf2\x00\x00"
    assert song_position(129) == b"\xf2\x01\x01"
    assert song_position(16383) == b"\xf2\x7f\x7f"
    for wrong in (-1, 16384):
        with pytest.raises(ValueError, match="0 to 16383"):
            song_position(wrong)


def test_past_the_last_position_the_count_goes_on() -> None:
    line = Timeline.starting(0, BEGIN, Fraction(1000))
    one = leader(line, first=0)
    play(one, BEGIN + 16_384 * 240_000)
    now = BEGIN + 16_384 * 240_000 + 400_000
    assert [cue.data for cue in one.take(now)] == [CLOCK]
    assert one.next_due == now + 20_000
