"""A key or a tempo that is called for by name does what a key note and taps do, where they may."""

from __future__ import annotations

import pytest

from introit.live.events import Called, Ordered
from introit.live.setup import KeyZone
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.testing.outcome import ends_in_silence, states
from introit.testing.script import Script, feet, key
from introit.units import NS_PER_MS, NS_PER_SECOND, TEMPO_MAX, TEMPO_MIN

MS = NS_PER_MS
EB = 3


def played(script: Script, *events: tuple[int, Called | Ordered], held: bool = False) -> Rehearsal:
    """Four bars of four at 120, from 1 s on; key notes from 24 to 47."""
    front = SketchFront(bars=4, count_off=0)
    rehearsal = Rehearsal(sketch_setup(key_zone=KeyZone(minor="tune")), front, lookaheads=(0,))
    rehearsal.play(script)
    for ms, event in events:
        rehearsal.say(ms * MS, event)
    rehearsal.run(30 * NS_PER_SECOND)
    return rehearsal


def sent(rehearsal: Rehearsal) -> list[tuple[int, bytes]]:
    return [(one.actual, one.data) for one in rehearsal.sent]


@pytest.mark.parametrize("at", [500, 2200, 4400], ids=["ready", "playing", "later"])
def test_a_key_by_name_is_the_key_of_its_note(at: int) -> None:
    start = feet(1000)
    by_note = played(sorted([*start, *key(at, 24 + EB)]))
    by_name = played(start, (at, Called(tonic=EB)))
    assert sent(by_name) == sent(by_note)
    assert sent(by_name) != sent(played(start))
    assert ends_in_silence(by_name)


def test_a_mode_is_called_for_with_it() -> None:
    minor = played(feet(1000), (500, Called(tonic=EB, minor=True)))
    assert any("minor" in shown.key for shown in minor.shown)


@pytest.mark.parametrize("at", [500, 2200], ids=["ready", "playing"])
def test_a_tempo_by_name_is_that_of_taps(at: int) -> None:
    called = played(feet(1000), (at, Called(tempo=150.0)))
    assert 150 in [shown.tempo for shown in called.shown]
    landed = next(shown.ns for shown in called.shown if shown.state == "in the tune")
    usual = next(shown.ns for shown in played(feet(1000)).shown if shown.state == "in the tune")
    assert landed < usual
    assert ends_in_silence(called)


def test_out_of_range_it_is_the_nearest() -> None:
    assert played([], (500, Called(tempo=9999.0))).shown[-1].tempo == TEMPO_MAX
    assert played([], (500, Called(tempo=-3.0))).shown[-1].tempo == TEMPO_MIN


def test_in_the_tune_neither_is_taken() -> None:
    called = played(feet(1000), (12000, Called(tonic=EB, tempo=150.0)))
    assert states(called)[-1][1] == "in the tune"
    texts = [shown.text for shown in called.shown]
    assert "another key: not while in the tune" in texts
    assert "another tempo: not while in the tune" in texts


def test_nothing_called_for_changes_nothing() -> None:
    assert sent(played(feet(1000), (500, Called()))) == sent(played(feet(1000)))
