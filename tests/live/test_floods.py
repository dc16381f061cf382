"""Whatever a device sends beside what the rig asks for changes nothing: the same goes out, to the nanosecond.

On the fake clock, through the real loop, with all of it reaching the session (a real port leaves most of it
out before: see `ports/test_incoming.py`). Message forms: MIDI 1.0 Detailed Specification.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

import pytest

from introit.live.events import Flooded, Shown
from introit.live.messages import CLOCK, control, note_off, note_on, program
from introit.live.setup import Control, FootSwitch, KeyZone
from introit.performance import PARTS
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

MS = NS_PER_MS
PRESS, HEAD = 1_000 * MS, 5_000 * MS
"""Two bars of four at 120."""
FROM, TO = 900 * MS, 3_100 * MS
"""When the flood comes: from before the press to the middle of the intro."""
SETUP = sketch_setup(
    foot_switch=FootSwitch(port=0, channel=0),
    key_zone=KeyZone(low=24, high=47),
    controls=(Control("level", message="control", number=11, channel=0, part=PARTS.index("comp")),),
)
Flood = Callable[[int], list[bytes]]


def sysex(size: int) -> bytes:
    return b"\xf0\x7d" + bytes(turn % 128 for turn in range(size - 3)) + b"\xf7"  # 7D: for research


def malformed(turn: int) -> list[bytes]:
    dice = random.Random(turn)
    cut = [
        b"\xb0",
        b"\xb0\x40",
        b"\x90\x20",
        b"\xb0\x40\xff",
        b"\xb0\xc0\x7f",
        b"\x40\x7f",
        b"",
        b"\xf7",
        b"\xf0",
    ]
    return [*cut, bytes(dice.randrange(0x80) for _ in range(1 + turn % 5)), sysex(20)[:-1], sysex(20)[3:]]


FLOODS: dict[str, Flood] = {  # what comes at a millisecond
    "a system exclusive of 64 kB now and then": lambda turn: [sysex(65_536)] if turn % 500 == 0 else [],
    "many small ones": lambda turn: [sysex(8)] * 5,
    "running controllers": lambda turn: [
        control(0, number, turn % 128) for number in (1, 2, 7, 10, 63, 65, 74)
    ],
    "the foot's controller on other channels": lambda turn: [
        control(channel, 64, 127 * (turn % 2)) for channel in range(1, 16)
    ],
    "ten thousand clocks a second": lambda turn: [CLOCK] * 10,
    "active sensing, start and stop": lambda turn: [b"\xfe", b"\xfa", b"\xf8", b"\xfc", b"\xfb", b"\xff"],
    "song positions": lambda turn: [bytes((0xF2, turn % 128, 0)), b"\xf1\x05", b"\xf6"],
    "malformed bytes": malformed,
    "pitch bend and pressure": lambda turn: [
        bytes((0xE0, turn % 128, turn // 16 % 128)),
        bytes((0xD0, turn % 128)),
        bytes((0xA0, turn % 128, 64)),
    ],
    "notes outside the key zone": lambda turn: [
        message
        for pitch in (23, 48, 60 + turn % 60)
        for message in (note_on(0, pitch, 90), note_off(0, pitch))
    ],
    "program changes": lambda turn: [program(turn % 16, turn % 128)],
}


@pytest.fixture
def play() -> Iterator[Callable[..., Rehearsal]]:
    made: list[Rehearsal] = []

    def run(flood: Flood, lookahead: int) -> Rehearsal:
        rehearsal = Rehearsal(SETUP, SketchFront(), lookaheads=[lookahead])
        made.append(rehearsal)
        rehearsal.play([(PRESS, control(0, 64, 127)), (PRESS + 80 * MS, control(0, 64, 0))])
        for turn in range((TO - FROM) // MS):
            rehearsal.play([(FROM + turn * MS + 1, data) for data in flood(turn)])
        rehearsal.run(HEAD + 2 * NS_PER_SECOND)
        return rehearsal

    yield run
    for one in made:
        one.inbox.close()


@pytest.mark.parametrize("lookahead", [0, 30 * MS], ids=["immediate", "ahead"])
@pytest.mark.parametrize("name", FLOODS)
def test_the_same_goes_out_with_a_flood_and_without(
    play: Callable[..., Rehearsal], name: str, lookahead: int
) -> None:
    still = play(lambda turn: [], lookahead)
    flooded = play(FLOODS[name], lookahead)
    sent = [data for turn in range((TO - FROM) // MS) for data in FLOODS[name](turn)]
    assert len(flooded.heard) - len(still.heard) == sum(
        data != CLOCK for data in sent
    )  # all reached the loop
    assert flooded.receivers[0].messages == still.receivers[0].messages
    assert len(still.receivers[0].ons()) == 2 * (3 + 4 + 4)
    assert flooded.states() == still.states() == [(PRESS, "playing"), (HEAD, "in the tune")]
    assert flooded.wanted == still.wanted
    assert [shown for shown in flooded.shown if shown.what != "port"] == still.shown


def test_a_foot_acts_in_the_middle_of_it() -> None:
    def everything(turn: int) -> list[bytes]:
        return [data for flood in FLOODS.values() for data in flood(turn)]

    rehearsal = Rehearsal(SETUP, SketchFront())
    for turn in range(200):
        rehearsal.play([(PRESS + 1_400 * MS + turn * MS, data) for data in everything(turn * 50)])
    rehearsal.play([(PRESS, control(0, 64, 127)), (PRESS + 80 * MS, control(0, 64, 0))])
    rehearsal.play([(PRESS + 1_000 * MS, control(0, 64, 127))])  # held from before the flood into it
    rehearsal.run(HEAD)
    assert rehearsal.states() == [(PRESS, "playing"), (PRESS + 1_500 * MS, "ready")]
    assert not rehearsal.receivers[0].sounding


def test_what_a_port_had_to_leave_out_is_told_the_player() -> None:
    rehearsal = Rehearsal(SETUP, SketchFront())
    port = rehearsal.ports[0]
    news: list[Flooded] = [Flooded(0, 12)]
    hear = port.heard
    port.heard = lambda: [*hear(), *[news.pop() for _ in range(len(news))]]  # type: ignore[method-assign]
    rehearsal.run(NS_PER_SECOND)
    (told,) = [shown for shown in rehearsal.shown if shown.what == "port"]
    assert told == Shown(
        told.ns,
        told.state,
        "port",
        text="synth 1: more came in at once than can be taken; 12 messages were left out",
    )
