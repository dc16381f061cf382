"""How channels are to sound is told once, what is set back first, and again to a port that was away."""

from __future__ import annotations

from itertools import count

from introit.live.events import Hand
from introit.live.messages import control, program
from introit.live.setup import Route
from introit.live.tones import Tones, set_back
from introit.testing import SketchFront, rehearse, sketch_setup
from introit.units import NS_PER_SECOND

PLAIN = Route(0, 0, 2, program=5, level=90)


def made(*routes: Route) -> Tones:
    return Tones(routes, count().__next__)


def told(hands: list[Hand]) -> list[tuple[int, bytes]]:
    return [(hand.port, cue.data) for hand in hands for cue in hand.cues]


def test_level_then_program_each_told_once() -> None:
    tones = made(PLAIN)
    assert told(tones.prepare(0)) == [(0, control(2, 7, 90)), (0, program(2, 5))]
    assert tones.prepare(1) == []


def test_set_back_are_damper_bend_modulation_and_expression() -> None:
    """RP-015, answer to Reset All Controllers (from memory): controllers 64 and 1 to 0, 11 to 127, the bend
    to its centre, 2000H. Volume is not among them.
    """
    assert set(set_back(3)) == {b"\xb3\x40\x00", b"\xb3\x01\x00", b"\xb3\x0b\x7f", b"\xe3\x00\x40"}


def test_a_channel_that_is_reset_is_set_back_before_all_else_and_its_volume_is_the_parts_or_100() -> None:
    """100 is General MIDI's volume at power-on (from memory)."""
    with_level = made(Route(0, 0, 2, program=5, level=90, reset=True))
    assert told(with_level.prepare(0)) == [
        *((0, data) for data in set_back(2)),
        (0, control(2, 7, 90)),
        (0, program(2, 5)),
    ]
    without = made(Route(0, 0, 2, reset=True))
    assert told(without.prepare(0)) == [*((0, data) for data in set_back(2)), (0, control(2, 7, 100))]


def test_only_channels_in_use_are_reset_and_one_that_parts_share_once() -> None:
    shared = [Route(part, 1, 9, reset=True) for part in (4, 5)]
    tones = made(*shared, Route(3, 1, 4, muted=True, reset=True))
    assert told(tones.prepare(0)) == [*((1, data) for data in set_back(9)), (1, control(9, 7, 100))]


def test_a_port_that_is_back_is_told_all_again_and_one_that_has_gone_nothing() -> None:
    tones = made(PLAIN, Route(1, 1, 0, level=80, reset=True))
    everything = told(tones.prepare(0))
    tones.forget(1)
    assert tones.prepare(1, gone={1}) == []
    assert told(tones.prepare(2)) == [message for message in everything if message[0] == 1]


def test_in_an_evening_a_reset_is_the_first_that_goes_out() -> None:
    setup = sketch_setup(routes=(Route(0, 0, 0, program=26, level=100, reset=True),))
    done = rehearse(setup, SketchFront(), [], until=NS_PER_SECOND)
    first = [sent.data for sent in done.receivers[0].messages]
    assert first == [*set_back(0), control(0, 7, 100), program(0, 26)]
