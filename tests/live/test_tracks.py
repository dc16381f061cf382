"""From a performance to cues, and what comes late."""

from __future__ import annotations

from fractions import Fraction
from itertools import count

from introit.live.cue import Rank
from introit.live.messages import note_off, note_on
from introit.live.setup import Route
from introit.live.timeline import Timeline
from introit.live.tracks import LATE_NS, Span, Step, Track, laid, routed
from introit.performance import PlayedNote
from introit.testing import sketch
from introit.testing.sketch import BASS, COMP, MELODY
from introit.units import NS_PER_MS, ns_per_tick

EACH_NS = Timeline.starting(0, 0, Fraction(1))
ON, OFF = note_on(0, 60, 80), note_off(0, 60)


def track(begin: int, end: int, lookahead: int = 0) -> Track:
    """One note, on a timeline of a nanosecond a tick."""
    steps = [Step(begin, Rank.ON, 0, ON, end), Step(end, Rank.OFF, 0, OFF, end)]
    return Track(steps, EACH_NS, lookahead=lookahead, sequence=count().__next__)


def taken(track: Track, now: int) -> list[bytes]:
    return [cue.data for cue in track.take(now)]


def test_hands_out_each_cue_once_when_it_is_due() -> None:
    one = track(1_000, 2_000)
    assert one.next_due == 1_000
    assert taken(one, 999) == []
    assert taken(one, 1_000) == [ON]
    assert one.next_due == 2_000
    assert taken(one, 5_000) == [OFF]
    assert one.next_due is None


def test_a_lookahead_hands_out_earlier() -> None:
    one = track(1_000, 2_000, lookahead=500)
    assert one.next_due == 500
    assert taken(one, 500) == [ON]
    assert taken(one, 1_500) == [OFF]


def test_a_late_note_on_is_dropped_and_its_off_is_not() -> None:
    long = 10 * LATE_NS
    assert taken(track(0, long), LATE_NS) == [ON]
    late = track(0, long)
    assert taken(late, LATE_NS + 1) == []
    assert taken(late, long) == [OFF]


def test_a_late_note_that_is_over_does_not_begin() -> None:
    assert taken(track(0, 50), 51) == [OFF]
    assert taken(track(0, 50), 50) == [OFF]
    assert taken(track(0, 50), 49) == [ON]
    assert taken(track(0, 50, lookahead=30), 20) == [OFF]
    assert taken(track(0, 50, lookahead=30), 19) == [ON]
    assert taken(track(10, 20, lookahead=30), 10) == [ON, OFF]  # not late


def test_parts_go_where_the_routes_say_and_nothing_passes_the_head() -> None:
    performance = sketch(tempo=60, bars=1)
    head = performance.head_tick
    ringing = PlayedNote(head - 10, head + 500, 0, MELODY, 90, 70)
    after = PlayedNote(head, head + 500, 0, MELODY, 91, 70)
    changed = performance.__class__(
        **{name: getattr(performance, name) for name in performance.__slots__ if name != "notes"},
        notes=(*performance.notes, ringing, after),
    )
    timeline = Timeline.starting(0, 0, ns_per_tick(60))
    routes = [
        Route(MELODY, 1, 4),
        Route(BASS, 0, 5),
        Route(BASS, 1, 6),
        Route(COMP, 0, 7, muted=True),
    ]
    sequence = count(1)
    tracks = [
        Track(laid(notes, Span(0, None, 0)), timeline, lookahead=0, sequence=sequence.__next__)
        for notes in routed(changed, routes, 2)
    ]
    cues = [one.take(4_000 * NS_PER_MS - 1) + one.take(4_000 * NS_PER_MS) for one in tracks]
    assert [{cue.data[0] & 0x0F for cue in track_cues} for track_cues in cues] == [{5}, {4, 6}]
    everything = [cue for track_cues in cues for cue in track_cues]
    assert max(cue.ns for cue in everything) == 4_000 * NS_PER_MS  # four beats at 60
    assert len({cue.sequence for cue in everything}) == len(everything)
    assert note_off(4, 90) in [cue.data for cue in cues[1]]
    assert all(cue.data[1] != 91 for cue in everything)
