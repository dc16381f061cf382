"""Keys by name from what terminals send, and the messages of a foot-switch that they stand for.

Sequences beside names: what terminfo says for xterm and for the Linux console (`infocmp xterm linux`:
kcuf1, knp, kpp, khome, kend, kf5), in both cursor key modes.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.cli.keyboard import KeyFoot
from introit.cli.keys import ESCAPE_NS, REPEAT_NS, KeyDecoder, Repeats
from introit.cli.stand_in import StandIn, foot_of
from introit.library.keys import NAMED_KEYS
from introit.library.stage import RigKeys
from introit.live.events import Heard, Ordered, Played
from introit.live.foot import FootReader, Move
from introit.live.gestures import DOUBLE_NS, Gestures
from introit.live.messages import ChannelMessage, parse
from introit.live.setup import FootSwitch, PortSetup, Setup
from introit.live.states import Gesture
from introit.performance import PARTS

MS = 1_000_000
NAMES = {
    b"\x1b[C": "right", b"\x1bOC": "right", b"\x1b[D": "left", b"\x1b[A": "up", b"\x1bOB": "down",
    b"\x1b[6~": "page down", b"\x1b[5~": "page up", b"\x1b[H": "home", b"\x1bOF": "end", b"\x1b[1~": "home",
    b"\x1b[4~": "end", b"\x1b[15~": "f5", b"\x1bOP": "f1", b"\x1b[24~": "f12", b"\x1b[1;5C": "right",
    b"\x1b[[A": "f1", b"\x1b[[E": "f5",
    b" ": "space", b"\r": "enter", b"\n": "enter", b"\t": "tab", b"\x7f": "backspace",
    b"n": "n", b"?": "?", "é".encode(): "é",
}  # fmt: skip


@pytest.mark.parametrize("sent", NAMES, ids=repr)
def test_a_key_is_known_whole_and_in_pieces(sent: bytes) -> None:
    assert KeyDecoder().feed(sent, 0) == [NAMES[sent]]
    decoder = KeyDecoder()
    assert [name for byte in sent for name in decoder.feed(bytes((byte,)), 0)] == [NAMES[sent]]


@pytest.mark.parametrize("sent", [b"\x1bq", b"\x1b[<0;10;10M", b"\x1b[I", b"\x1b[200~", b"\x1b[99~", b"\x00"])
def test_what_is_no_key_does_nothing(sent: bytes) -> None:
    """Alt, a mouse, the focus, a paste (XTerm Control Sequences, from memory): never the letters in them."""
    decoder = KeyDecoder()
    assert decoder.feed(sent + b" ", 0) == ["space"]
    assert decoder.next_due is None


def test_an_escape_is_one_when_nothing_follows() -> None:
    decoder = KeyDecoder()
    assert decoder.feed(b"\x1b", 0) == []
    assert decoder.next_due == ESCAPE_NS
    assert decoder.settle(ESCAPE_NS - 1) == []
    assert decoder.settle(ESCAPE_NS) == ["escape"]
    assert decoder.feed(b"[C", ESCAPE_NS) == ["[", "C"]


@given(st.lists(st.binary(max_size=6), max_size=8))
def test_no_bytes_are_too_wild(pieces: list[bytes]) -> None:
    decoder = KeyDecoder()
    for number, piece in enumerate(pieces):
        for name in decoder.feed(piece, number * MS):
            assert name in NAMED_KEYS or (len(name) == 1 and name.isprintable())
    decoder.settle(10**12)
    assert decoder.next_due is None


def test_a_key_held_down_is_one_stroke() -> None:
    repeats = Repeats()
    assert [repeats.struck("space", time) for time in (0, 33 * MS, 66 * MS, 158 * MS)] == [True] + 3 * [False]
    assert repeats.struck("enter", 158 * MS)
    assert repeats.struck("space", 158 * MS + REPEAT_NS + 1)


SWITCHES = {
    "usual": FootSwitch(),
    "inverted": FootSwitch(port=1, number=80, channel=3, inverted=True),
    "note": FootSwitch(message="note", number=40),
    "any note": FootSwitch(message="note", number=None),
    "inverted note": FootSwitch(message="note", number=40, inverted=True),
    "any control": FootSwitch(number=None),
    "latching": FootSwitch(action="latching"),
    "press-only": FootSwitch(action="press-only"),
    "inverted press-only": FootSwitch(action="press-only", inverted=True),
    "program": FootSwitch(message="program", number=9, action="press-only"),
    "any program": FootSwitch(message="program", number=None),
    "deep": FootSwitch(on_at=127, off_at=0),
}
HELD = {"usual", "inverted", "note", "any note", "inverted note", "any control", "deep"}


def gestures(switch: FootSwitch, *strokes: tuple[int, bytes]) -> list[Gesture]:
    """What the session's own readers make of keys, in one state that nothing leaves."""
    foot, reader = KeyFoot(switch, RigKeys()), FootReader(switch)
    teller, told = Gestures(held=can_hold(switch)), []
    waiting = list(strokes)
    for now in range(0, 4_000 * MS, 10 * MS):
        while waiting and waiting[0][0] <= now:
            assert foot.strike(waiting.pop(0)[1], now) == []
        events, uses = foot.due(now)
        assert uses == []
        edges = reader.settle(now)
        for event in events:
            assert isinstance(event, Played)
            message = parse(event.data)
            assert isinstance(message, ChannelMessage)
            assert reader.matches(Heard(event.port, now, event.data).port, message)
            edges += reader.read(message, now)
        for edge in edges:
            if edge.move is Move.DOWN:
                told += [teller.press(edge.ns, 1), teller.double(edge.ns, before=1, visit=1)]
            else:
                teller.edge(edge)
        told.append(teller.hold(now, 1))
    return [one.gesture for one in told if one is not None]


def can_hold(switch: FootSwitch) -> bool:
    return switch.action == "momentary" and switch.message != "program"


@pytest.mark.parametrize("name", SWITCHES)
def test_keys_speak_the_language_of_every_switch(name: str) -> None:
    switch = SWITCHES[name]
    press, hold, double = Gesture.PRESS, Gesture.HOLD, Gesture.DOUBLE_PRESS
    twice = hold if name not in HELD else double
    assert can_hold(switch) == (name in HELD)
    assert gestures(switch, (0, b" ")) == [press]
    assert gestures(switch, (0, b" "), (DOUBLE_NS + 50 * MS, b" ")) == [press, press]
    assert gestures(switch, (0, b"\x1b[6~"), (150 * MS, b"\x1b[6~")) == [press, press, twice]
    assert gestures(switch, (0, b"h")) == ([press, hold] if name in HELD else [press, press, hold])
    assert gestures(switch, (0, b"h"), (100 * MS, b" ")) == gestures(switch, (0, b"h"))
    assert gestures(switch, (0, b"          ")) == [press]  # held down, or pasted
    assert gestures(switch, (0, b" "), (10 * MS, b"h")).count(hold) == 1  # two fingers at once


def test_two_feet_in_a_row_alternate_on_a_latching_switch() -> None:
    foot = StandIn(FootSwitch(action="latching"))
    sent = [timed.played.data[2] for press in range(4) for timed in foot.press(press * 500 * MS)]
    assert sent == [127, 0, 127, 0]


def test_without_a_foot_switch_keys_have_one_that_no_device_can_press() -> None:
    setup = Setup(ports=(PortSetup("a", "memory"), PortSetup("b", "memory")), routes=(), tunes=1)
    assert foot_of(setup) is setup.foot_switch
    own = foot_of(Setup(ports=setup.ports, routes=(), tunes=1, foot_switch=None))
    message = parse(b"\xb0\x40\x7f")
    assert isinstance(message, ChannelMessage)
    assert [FootReader(own).matches(port, message) for port in (0, 1, 2)] == [False, False, True]


def test_the_rigs_own_keys_are_taken() -> None:
    foot = KeyFoot(FootSwitch(), RigKeys(press=("w", "f5"), leave=("escape",)))
    assert foot.strike(b" q?", 0) == ["help"]
    assert foot.due(0) == ([], [])
    foot.strike(b"w", 0)
    assert len(foot.due(0)[0]) == 1
    foot.strike(b"\x1b", 500 * MS)
    assert len(foot.due(500 * MS)[0]) == 1  # the foot comes up
    assert foot.next_due == 500 * MS + ESCAPE_NS
    assert foot.due(500 * MS + ESCAPE_NS)[1] == ["leave"]


def test_keys_give_orders_at_once_and_in_the_order_they_were_struck() -> None:
    foot = KeyFoot(FootSwitch(), RigKeys())
    assert foot.strike(b"n\x1b[5~i+-\x1b[A\x1b[Bt", 0) == []
    orders = [*("next", "back", "another intro"), *("faster", "slower") * 2, "tap tempo"]
    assert foot.due(0) == ([Ordered(order) for order in orders], [])
    assert foot.strike(b"fsx19BU", 0) == []
    assert foot.due(0)[0] == [
        Ordered("first note"), Ordered("sound check"), Ordered("silence"),
        Ordered("tune", value=0), Ordered("tune", value=8),
        Ordered("mute", part=PARTS.index("bass")), Ordered("mute", part=PARTS.index("cue")),
    ]  # fmt: skip
    assert foot.next_due is None


def test_a_key_that_repeats_gives_one_order() -> None:
    foot = KeyFoot(FootSwitch(), RigKeys())
    for ms in (0, 33, 66, 400):
        foot.strike(b"+", ms * MS)
    assert foot.due(400 * MS)[0] == [Ordered("faster"), Ordered("faster")]
