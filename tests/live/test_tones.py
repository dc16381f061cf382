"""How channels are to sound is told once, what is set back first, and again to a port that was away."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

from introit.live.events import Hand, Ordered, Ready, Request, Wanted
from introit.live.messages import control, note_on, program
from introit.live.setup import Route
from introit.live.tones import Tones, set_back
from introit.performance import Sound
from introit.testing import Rehearsal, SketchFront, rehearse, sketch_setup
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


def test_a_tune_may_sound_otherwise_and_the_rigs_own_sound_comes_back() -> None:
    tones = made(PLAIN, Route(1, 0, 3, program=7, level=80))
    tones.prepare(0)
    tones.want([Sound(0, 26, 70)])
    assert told(tones.prepare(1)) == [(0, control(2, 7, 70)), (0, program(2, 26))]
    assert tones.prepare(2) == []
    tones.want([Sound(0, 26, None), Sound(1, None, 60)])
    assert told(tones.prepare(3)) == [(0, control(2, 7, 90)), (0, control(3, 7, 60))]
    tones.want([])
    assert told(tones.prepare(4)) == [(0, control(3, 7, 80)), (0, program(2, 5))]


def test_what_the_rig_does_not_name_goes_back_to_the_usual_level_and_keeps_the_program() -> None:
    tones = made(Route(0, 0, 2))
    assert tones.prepare(0) == []
    tones.want([Sound(0, 26, 70)])
    assert told(tones.prepare(1)) == [(0, control(2, 7, 70)), (0, program(2, 26))]
    tones.want([])
    assert told(tones.prepare(2)) == [(0, control(2, 7, 100))]


def test_a_sound_sets_nothing_back_and_comes_first_on_a_channel_that_parts_share() -> None:
    tones = made(Route(2, 0, 2, program=32, reset=True), Route(3, 0, 2, reset=True))
    tones.want([Sound(3, 33, None)])
    first = told(tones.prepare(0))
    assert first == [*((0, data) for data in set_back(2)), (0, control(2, 7, 100)), (0, program(2, 33))]
    tones.want([])
    assert told(tones.prepare(1)) == [(0, program(2, 32))]


def test_a_port_that_is_back_is_told_the_tunes_own_sound() -> None:
    tones = made(PLAIN)
    tones.want([Sound(0, 26, None)])
    everything = told(tones.prepare(0))
    tones.forget(0)
    assert told(tones.prepare(1)) == everything == [(0, control(2, 7, 90)), (0, program(2, 26))]


def test_a_part_that_the_rig_mutes_or_has_not_is_sent_no_sound() -> None:
    tones = made(Route(0, 0, 2, muted=True))
    tones.want([Sound(0, 26, 70), Sound(1, 26, 70)])
    assert tones.prepare(0) == []


def programs(done: Rehearsal) -> list[bytes]:
    return [sent.data for sent in done.receivers[0].messages if sent.data[0] & 0xF0 == 0xC0]


def test_each_tune_of_an_evening_sounds_as_it_asks() -> None:
    """The sketched rig gives the melody (channel 1) program 26; the second tune asks for 4."""

    def front(wanted: Wanted) -> list[Ready]:
        sounds = (Sound(0, 4, None),) if wanted.request.tune == 1 else ()
        (ready,) = answering(wanted)
        assert isinstance(ready, Ready)
        return [replace(ready, performance=replace(ready.performance, sounds=sounds))]

    answering = SketchFront()
    rehearsal = Rehearsal(sketch_setup(), front)
    for second, order in enumerate(("next", "next"), 1):
        rehearsal.say(second * NS_PER_SECOND, Ordered(order))
    rehearsal.play([(3 * NS_PER_SECOND // 2, note_on(15, 30, 90))])
    rehearsal.run(3 * NS_PER_SECOND)
    assert [data for data in programs(rehearsal) if data[0] & 15 == 0] == [
        program(0, 26),
        program(0, 4),
        program(0, 26),
    ]


def test_a_sound_that_is_saved_is_sent_to_the_tune_that_is_ready() -> None:
    front = SketchFront()
    rehearsal = Rehearsal(sketch_setup(), front)
    saved = replace(front.performance(Request(0)), sounds=(Sound(0, 4, None),))
    rehearsal.say(NS_PER_SECOND, Ready(0, True, saved))
    rehearsal.run(2 * NS_PER_SECOND)
    assert [data for data in programs(rehearsal) if data[0] & 15 == 0] == [program(0, 26), program(0, 4)]


def test_a_sound_that_is_saved_while_it_plays_is_sent_when_the_tune_is_ready_again() -> None:
    front = SketchFront()
    rehearsal = Rehearsal(sketch_setup(), front)
    script = [(1000, 127), (1060, 0), (7000, 127), (7060, 0), (7200, 127), (7260, 0)]
    rehearsal.play([(ms * NS_PER_SECOND // 1000, control(0, 64, value)) for ms, value in script])
    saved = replace(front.performance(Request(0)), sounds=(Sound(0, 4, None),))
    rehearsal.say(6 * NS_PER_SECOND, Ready(0, True, saved))
    rehearsal.advance(7 * NS_PER_SECOND)
    assert program(0, 4) not in programs(rehearsal)
    rehearsal.run(8 * NS_PER_SECOND)
    assert rehearsal.states()[-1][1] == "ready"
    assert programs(rehearsal)[-1] == program(0, 4)


def test_in_an_evening_a_reset_is_the_first_that_goes_out() -> None:
    setup = sketch_setup(routes=(Route(0, 0, 0, program=26, level=100, reset=True),))
    done = rehearse(setup, SketchFront(), [], until=NS_PER_SECOND)
    first = [sent.data for sent in done.receivers[0].messages]
    assert first == [*set_back(0), control(0, 7, 100), program(0, 26)]
