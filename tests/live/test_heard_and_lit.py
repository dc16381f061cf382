"""Hearing instead of seeing: a quiet cue when another key or tune is ready, the first note, lamps by MIDI."""

from __future__ import annotations

from typing import Any

from introit.live.events import Back, Gone, Ordered
from introit.live.setup import KeyZone, Lamp, Route
from introit.performance import PARTS, PlayedNote
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.testing.script import Script, feet, key
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

MS = NS_PER_MS
CUE = PARTS.index("cue")
QUARTER = TICKS_PER_QUARTER
CUED = (PlayedNote(0, QUARTER, 0, CUE, 60, 40), PlayedNote(QUARTER, 2 * QUARTER, QUARTER, CUE, 64, 40))
FIRST = (PlayedNote(0, QUARTER, 0, CUE, 67, 40),)
LAMPS = (
    Lamp(when="ready", port=0, channel=15, message="note", number=1, on=127, off=0),
    Lamp(when="counting off", port=0, channel=15, message="note", number=2, on=127, off=0),
    Lamp(when="playing", port=0, channel=15, message="note", number=3, on=127, off=0),
    Lamp(when="last bar", port=0, channel=15, message="note", number=4, on=127, off=0),
    Lamp(when="in the tune", port=0, channel=15, message="note", number=5, on=127, off=0),
)


def played(
    script: Script,
    orders: list[tuple[int, Ordered]] | None = None,
    *,
    until: int = 12,
    lookahead: int = 0,
    starts: bool = False,
    count_off: int = 0,
    **setup: Any,
) -> Rehearsal:
    whole = sketch_setup(key_zone=KeyZone(minor="tune", starts=starts), tunes=2)
    routes = (*whole.routes, Route(CUE, 0, 12))
    rehearsal = Rehearsal(
        sketch_setup(key_zone=whole.key_zone, routes=routes, **setup),
        SketchFront(changes={"cue": CUED, "first_note": FIRST}, count_off=count_off),
        lookaheads=(lookahead,),
    )
    rehearsal.play(script)
    for ms, order in orders or []:
        rehearsal.say(ms * MS, order)
    rehearsal.run(until * NS_PER_SECOND)
    return rehearsal


def cued(rehearsal: Rehearsal) -> list[tuple[float, int]]:
    return [
        (sent.actual / NS_PER_SECOND, sent.data[1])
        for sent in rehearsal.receivers[0].ons()
        if sent.data[0] & 15 == 12
    ]


def lit(rehearsal: Rehearsal) -> list[tuple[float, int]]:
    """(second, number) of each lamp as it is lit."""
    return [
        (sent.actual / NS_PER_SECOND, sent.data[1])
        for sent in rehearsal.receivers[0].messages
        if sent.data[0] == 0x9F and sent.data[2]
    ]


def test_another_key_is_sounded_once_it_is_ready() -> None:
    assert cued(played(key(1000, 27))) == [(1.0, 60), (1.5, 64)]


def test_the_next_tune_is_sounded_too_and_the_first_of_the_evening_is_not() -> None:
    assert cued(played([], [(2000, Ordered("next"))])) == [(2.0, 60), (2.5, 64)]


def test_a_start_does_not_wait_for_the_cue_to_end() -> None:
    for lookahead in (0, 30 * MS):
        done = played([*key(1000, 27), *feet(1200)], lookahead=lookahead)
        bass = [sent.actual for sent in done.receivers[0].ons() if sent.data[0] & 15 == 2]
        assert bass[0] == 1200 * MS
        assert cued(done) == [(1.0, 60)]
        assert not done.receivers[0].sounding


def test_a_key_note_that_starts_sounds_no_cue_into_the_intro() -> None:
    done = played(key(1000, 27), starts=True)
    bass = [sent.actual for sent in done.receivers[0].ons() if sent.data[0] & 15 == 2]
    assert bass[0] == 1000 * MS
    assert cued(done) == []


def test_nothing_is_sounded_into_what_plays() -> None:
    assert cued(played([*feet(1000), *key(2000, 27)])) == []


def test_the_singers_first_note_is_given_when_asked_for() -> None:
    assert cued(played([], [(1000, Ordered("first note"))])) == [(1.0, 67)]


def test_lamps_tell_where_the_session_is() -> None:
    done = played(feet(1000), lamps=LAMPS, count_off=4)
    # Four beats at 120 are counted, then two bars: the head falls at 7 s, the last bar begins at 5 s.
    assert lit(done) == [(0.0, 1), (1.0, 2), (3.0, 3), (5.0, 4), (7.0, 5)]
    last = {sent.data[1]: sent.data[2] for sent in done.receivers[0].messages if sent.data[0] == 0x9F}
    assert set(last.values()) == {0}  # all out at the end of the evening


def test_a_port_that_is_back_is_told_its_lamps_again() -> None:
    rehearsal = Rehearsal(sketch_setup(lamps=LAMPS), SketchFront())
    rehearsal.put(1000 * MS, Gone(0, "unplugged"))
    rehearsal.put(2000 * MS, Back(0))
    rehearsal.run(3 * NS_PER_SECOND)
    assert lit(rehearsal) == [(0.0, 1), (2.0, 1)]
