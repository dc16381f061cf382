"""Switches of every kind as scripts of messages, and what is made of them.

What a kind of switch sends is common practice (no source); controllers 64 to 69 are switches, up to 63 off,
from 64 on, 0 and 32 bank select, 120 to 127 channel mode (MIDI 1.0 Detailed Specification, table III).
The last word is the session's own reader's: what was found must make exactly the edges that the foot made.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.cli.verdict import Doubt, Verdict, hold_is_over, judged, press_is_over
from introit.live.events import Heard
from introit.live.foot import FootReader, Move, can_be_held
from introit.live.messages import ChannelMessage, control, note_off, note_on, parse, program
from introit.live.setup import FootSwitch

MS = 1_000_000
Said = tuple[int, bytes]
"""Milliseconds, message."""


def heard(*said: Said, port: int = 0) -> list[Heard]:
    return [Heard(port, ms * MS, data) for ms, data in said]


def cc(value: int, number: int = 64, channel: int = 0) -> bytes:
    return control(channel, number, value)


def ramp(start: int, low: int, high: int, *, step: int = 4, every: int = 8, number: int = 64) -> list[Said]:
    """A pedal on its way, a message every so many milliseconds."""
    values = range(low, high + 1, step) if low < high else range(low, high - 1, -step)
    values_and_end = [*values, high]
    return [(start + every * place, cc(value, number)) for place, value in enumerate(values_and_end)]


USUAL = FootSwitch(port=0, channel=0)
CASES: dict[str, tuple[list[Said], list[Said], FootSwitch]] = {
    "momentary": ([(0, cc(127)), (180, cc(0))], [(0, cc(127)), (2100, cc(0))], USUAL),
    "momentary, 1 and 0": (
        [(0, cc(1)), (180, cc(0))],
        [(0, cc(1)), (2100, cc(0))],
        FootSwitch(port=0, channel=0, on_at=1, off_at=0),
    ),
    "momentary, up to 64": (
        [(0, cc(64)), (180, cc(0))],
        [(0, cc(64)), (2100, cc(0))],
        FootSwitch(port=0, channel=0, on_at=38, off_at=25),
    ),
    "inverted": (
        [(0, cc(0)), (180, cc(127))],
        [(0, cc(0)), (2100, cc(127))],
        FootSwitch(port=0, channel=0, inverted=True),
    ),
    "another controller and channel": (
        [(0, cc(127, 80, 9)), (150, cc(0, 80, 9))],
        [(0, cc(127, 80, 9)), (1900, cc(0, 80, 9))],
        FootSwitch(port=0, channel=9, number=80),
    ),
    "says again that it is down": (
        [(0, cc(127)), (180, cc(0))],
        [*((at, cc(127)) for at in range(0, 2000, 100)), (2100, cc(0)), (2200, cc(0))],
        USUAL,
    ),
    "bouncing": (
        [(0, cc(127)), (4, cc(0)), (9, cc(127)), (200, cc(0)), (203, cc(127)), (209, cc(0))],
        [(0, cc(127)), (6, cc(0)), (7, cc(127)), (2050, cc(0)), (2060, cc(127)), (2065, cc(0))],
        USUAL,
    ),
    "latching": ([(0, cc(127))], [(0, cc(0))], FootSwitch(port=0, channel=0, action="latching")),
    "latching, on before": ([(0, cc(0))], [(0, cc(127))], FootSwitch(port=0, channel=0, action="latching")),
    "latching and bouncing": (
        [(0, cc(127)), (3, cc(0)), (8, cc(127))],
        [(0, cc(0)), (2, cc(127)), (11, cc(0))],
        FootSwitch(port=0, channel=0, action="latching"),
    ),
    "latching note": (
        [(0, note_on(2, 60, 90))],
        [(0, note_off(2, 60))],
        FootSwitch(port=0, channel=2, message="note", number=60, action="latching"),
    ),
    "press-only": ([(0, cc(127))], [(0, cc(127))], FootSwitch(port=0, channel=0, action="press-only")),
    "press-only, low": (
        [(0, cc(1))],
        [(0, cc(1))],
        FootSwitch(port=0, channel=0, action="press-only", on_at=1, off_at=0),
    ),
    "press-only, nought": (
        [(0, cc(0))],
        [(0, cc(0))],
        FootSwitch(port=0, channel=0, action="press-only", inverted=True),
    ),
    "down and up at once": (
        [(0, cc(127)), (2, cc(0))],
        [(0, cc(127)), (2, cc(0))],
        FootSwitch(port=0, channel=0, action="press-only"),
    ),
    "down, and up soon after": (
        [(0, cc(127)), (100, cc(0))],
        [(0, cc(127)), (100, cc(0))],
        FootSwitch(port=0, channel=0, action="press-only"),
    ),
    "note": (
        [(0, note_on(0, 36, 127)), (150, note_off(0, 36))],
        [(0, note_on(0, 36, 41)), (2000, bytes((0x90, 36, 0)))],  # a note-on with velocity 0 is a note-off
        FootSwitch(port=0, channel=0, message="note", number=36),
    ),
    "note without its end": (
        [(0, note_on(0, 36, 127))],
        [(0, note_on(0, 36, 100))],
        FootSwitch(port=0, channel=0, message="note", number=36, action="press-only"),
    ),
    "program": (
        [(0, program(3, 7))],
        [(0, program(3, 7))],
        FootSwitch(port=0, channel=3, message="program", number=7, action="press-only"),
    ),
    "program, another each time": (
        [(0, program(3, 7))],
        [(0, program(3, 8))],
        FootSwitch(port=0, channel=3, message="program", number=None, action="press-only"),
    ),
    "program with its bank": (
        [(0, cc(0, 0)), (1, cc(5, 32)), (2, program(0, 1))],
        [(0, cc(0, 0)), (1, cc(5, 32)), (2, program(0, 1))],
        FootSwitch(port=0, channel=0, message="program", number=1, action="press-only"),
    ),
    "program, and a controller that can be held": (
        [(0, program(0, 1)), (1, cc(127, 81)), (190, cc(0, 81))],
        [(0, program(0, 1)), (1, cc(127, 81)), (2050, cc(0, 81))],
        FootSwitch(port=0, channel=0, number=81),
    ),
    "half-pedal": (
        [*ramp(0, 0, 127), *ramp(400, 127, 0)],
        [*ramp(0, 0, 127), *ramp(2300, 127, 0)],
        FootSwitch(port=0, channel=0, on_at=76, off_at=50),
    ),
    "half-pedal that rests high and not at the end": (
        [*ramp(0, 120, 20), *ramp(400, 20, 120)],
        [*ramp(0, 120, 20), *ramp(2300, 20, 120)],
        FootSwitch(port=0, channel=0, inverted=True, on_at=67, off_at=47),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_each_kind_of_switch_is_told(name: str) -> None:
    press, hold, switch = CASES[name]
    verdict = judged([], heard(*press), heard(*hold))
    assert isinstance(verdict, Verdict), verdict
    assert verdict.switch == switch
    assert verdict.halfway == ("half-pedal" in name)


def downs(switch: FootSwitch, said: Iterable[Said], start: int, reader: FootReader) -> tuple[int, int]:
    """How often the session's own reader sees the foot go down, and come up."""
    edges = []
    for ms, data in said:
        message = parse(data)
        assert isinstance(message, ChannelMessage)
        if reader.matches(0, message):
            edges += reader.read(message, (start + ms) * MS)
    edges += reader.settle((start + 5000) * MS)
    moves = [edge.move for edge in edges]
    return moves.count(Move.DOWN), moves.count(Move.UP)


@pytest.mark.parametrize("name", CASES)
def test_what_was_found_makes_one_press_of_every_press(name: str) -> None:
    press, hold, _ = CASES[name]
    verdict = judged([], heard(*press), heard(*hold))
    assert isinstance(verdict, Verdict)
    reader = FootReader(verdict.switch)
    expected = (1, 1 if can_be_held(verdict.switch) else 0)
    assert downs(verdict.switch, press, 10_000, reader) == expected
    assert downs(verdict.switch, hold, 20_000, reader) == expected
    if verdict.switch.action == "press-only":  # a latching one would have to be pressed the other way now
        assert downs(verdict.switch, press, 30_000, reader) == expected


NOISE = heard(*((at, b"\xf8") for at in range(0, 900, 20)), (100, b"\xfe"), (300, b"\xe0\x00\x40"), port=1)
BREATH = heard(*((at, cc(40 + at % 50, 2)) for at in range(0, 900, 10)), port=1)


def test_clock_sensing_bends_and_streams_are_not_taken_for_a_switch() -> None:
    press, hold, switch = CASES["momentary"]
    noise = [*NOISE, *BREATH]
    assert judged(noise, [*noise, *heard(*press)], [*noise, *heard(*hold)]) == Verdict(switch)
    verdict = judged(noise, noise, noise)
    assert isinstance(verdict, Doubt)
    assert "before it too" in verdict.reason


def test_an_expression_pedal_beside_the_switch_loses_to_it() -> None:
    press, hold, switch = CASES["press-only"]
    wild = heard(*ramp(0, 0, 127, number=11), *ramp(500, 127, 0, number=11), port=1)
    slow = heard(*ramp(0, 0, 127, number=11), *ramp(2300, 127, 0, number=11), port=1)
    assert judged([], [*heard(*press), *wild], [*heard(*hold), *wild]) == Verdict(switch)
    assert judged([], [*heard(*press), *slow], [*heard(*hold), *slow]) == Verdict(switch)


@pytest.mark.parametrize(
    "hold",
    [
        ramp(0, 0, 127, number=11),
        [*ramp(0, 0, 127, number=11), *ramp(400, 127, 0, number=11)],
        [*ramp(0, 0, 127, number=11), *ramp(1300, 127, 0, number=11), *ramp(2300, 0, 127, number=11)],
        [(0, cc(60, 11)), (50, cc(61, 11)), (1800, cc(62, 11))],
    ],
)
def test_an_expression_pedal_that_wanders_is_no_switch(hold: list[Said]) -> None:
    verdict = judged([], heard(*ramp(0, 0, 127, number=11)), heard(*hold))
    assert isinstance(verdict, Doubt)


def test_two_devices_at_once_are_asked_to_be_one() -> None:
    press, hold, switch = CASES["momentary"]
    other = judged([], [*heard(*press), *heard(*press, port=1)], [*heard(*hold), *heard(*hold, port=1)])
    assert isinstance(other, Doubt)
    assert "two devices" in other.reason
    once = judged([], [*heard(*press), *heard(*press, port=1)], heard(*hold))
    assert once == Verdict(switch)


@pytest.mark.parametrize(
    ("press", "hold", "says"),
    [
        ([(0, cc(127)), (180, cc(0))], [(0, cc(127)), (500, cc(0))], "after 0.5 s"),
        ([(0, cc(127)), (180, cc(0))], [(0, cc(127))], "not when the hold did"),
        ([(0, cc(127))], [(0, cc(127, 65))], "had sent"),
        ([(0, cc(127)), (180, cc(0))], [(0, cc(127)), (300, cc(0)), (900, cc(127))], "more than once"),
    ],
)
def test_what_is_not_clear_is_asked_again(press: list[Said], hold: list[Said], says: str) -> None:
    verdict = judged([], heard(*press), heard(*hold))
    assert isinstance(verdict, Doubt)
    assert says in verdict.reason


def test_a_trial_ends_when_the_foot_has_come_up_or_will_not() -> None:
    press, hold = heard((100, cc(127)), (280, cc(0))), heard((100, cc(127)), (2200, cc(0)))
    assert not press_is_over([], [], 60_000 * MS)
    assert not press_is_over(BREATH, BREATH, 60_000 * MS)
    assert [press_is_over(press, [], ms * MS) for ms in (900, 1100)] == [False, True]
    assert [hold_is_over(hold, press, ms * MS) for ms in (2600, 2700)] == [False, True]
    alone = hold[:1]
    assert [hold_is_over(alone, press, ms * MS) for ms in (4000, 4100)] == [False, True]
    assert not hold_is_over(heard((100, cc(127, 65))), press, 60_000 * MS)


@given(st.lists(st.tuples(st.integers(0, 5000), st.binary(max_size=4)), max_size=12))
def test_whatever_comes_there_is_an_answer(said: list[Said]) -> None:
    script = heard(*sorted(said, key=lambda one: one[0]))
    verdict = judged([], script, script)
    if isinstance(verdict, Verdict):
        assert 0 <= verdict.switch.off_at < verdict.switch.on_at <= 127
    else:
        assert verdict.reason
