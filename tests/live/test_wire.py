"""Frames between the two processes. Pure: a list stands in for the socket."""

from __future__ import annotations

import contextlib
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.errors import PlayerError
from introit.live import wire
from introit.live.events import (
    Called,
    Following,
    Heard,
    Ordered,
    Played,
    Quit,
    Ready,
    Refused,
    Reordered,
    Request,
    Sent,
    Shown,
    Taught,
    Wanted,
)
from introit.live.wire import MAX_BODY, Decoder, Dropped, Failed, Hello, Left, Opened, Outbox, encode
from introit.performance import ChordMark, Performance, PlayedNote, Sound

PERFORMANCE = Performance(
    intro="plain",
    title="Ünïcode {braces}",
    key="Eb minor",
    tonic=3,
    minor=True,
    tempo=131.07,
    beats=4,
    start_tick=-3840,
    head_tick=15360,
    end_tick=17280,
    notes=(PlayedNote(0, 960, 0, 1, 60, 80), PlayedNote(-480, 0, 0, 5, 76, 127)),
    chords=(ChordMark(0, "Ebm6/9", "i6/9"),),
    vamp=(0, 15360),
    exits=(3840, 7680),
    rest=3840,
    sounds=(Sound(0, 26, None), Sound(1, None, 90)),
)

EVERY_KIND = [
    Hello('{"ports": []}'),
    Opened(("jack: synth:in", "memory"), "real-time 5", (2_666_666, 0), (32_666_666, 0)),
    Failed("port", "no MIDI port 'x'"),
    Left("Ctrl-C"),
    Dropped(17),
    Ready(3, True, PERFORMANCE),
    Ready(-1, False, PERFORMANCE, 2),
    Refused(Request(1, 6, True), "no minor form"),
    Refused(Request(1), "ß"),
    Quit("SIGTERM"),
    Played(0, bytes([0xB0, 64, 127])),
    Ordered("level", 2, 64),
    Reordered((0, 2, 12)),
    Called(tonic=3, minor=True, tempo=96.5),
    Called(),
    Following(PERFORMANCE, 7),
    Following(None, 8),
    Taught("loop", 2, 3),
    Taught("open"),
    Wanted(Request(0, None, None)),
    Wanted(Request(0, 3, True, 132.5, 1), afresh=True),
    Shown(2**62, "playing", "beat", bar=2, beat=3, symbol="Bb13(#11)", numeral="bII13(#11)"),
    Sent(1, 2**60, 2**60 + 3, bytes([0x90, 60, 1])),
    Heard(1, 5, b"\xf0\x7e\xf7"),
]


def decoded(data: bytes) -> list[object]:
    return list(Decoder().feed(encode(Hello()) + data))[1:]


@pytest.mark.parametrize("message", EVERY_KIND, ids=lambda message: type(message).__name__)
def test_every_kind_is_read_back_equal(message: wire.Message) -> None:
    assert decoded(encode(message)) == [message]


def test_every_kind_is_covered_here() -> None:
    assert {type(message) for message in EVERY_KIND} == set(wire.Message.__args__)


@given(st.lists(st.sampled_from(EVERY_KIND), max_size=6), st.data())
def test_frames_survive_any_cutting(messages: list[wire.Message], data: st.DataObject) -> None:
    stream = b"".join(map(encode, [Hello(), *messages]))
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=12)))
    decoder = Decoder()
    got = []
    for start, end in zip([0, *cuts], [*cuts, len(stream)], strict=True):
        got += decoder.feed(stream[start:end])
    assert got == [Hello(), *messages]


def test_one_byte_at_a_time() -> None:
    decoder = Decoder()
    got = [m for byte in encode(Hello()) + encode(EVERY_KIND[5]) for m in decoder.feed(bytes([byte]))]
    assert got == [Hello(), EVERY_KIND[5]]


def test_an_oversize_frame_is_refused_before_its_body_comes() -> None:
    with pytest.raises(PlayerError, match=f"allowed is {MAX_BODY}"):
        Decoder().feed(struct.pack("<IB", MAX_BODY + 1, 1))


def test_an_oversize_message_is_refused_by_the_sender() -> None:
    with pytest.raises(PlayerError, match="Quit takes"):
        encode(Quit("x" * (MAX_BODY + 1)))


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(PlayerError, match="unknown kind 250"):
        Decoder().feed(struct.pack("<IB", 0, 250))


def test_another_version_is_refused() -> None:
    with pytest.raises(PlayerError, match="speaks version 99; this one 3"):
        Decoder().feed(encode(Hello(version=99)))


def test_a_stream_that_does_not_greet_is_refused() -> None:
    with pytest.raises(PlayerError, match="first frame is Quit"):
        Decoder().feed(encode(Quit("")))


@given(st.integers(1, 40), st.binary(max_size=60))
def test_garbage_in_a_body_is_a_clear_error(kind: int, body: bytes) -> None:
    decoder = Decoder()
    decoder.feed(encode(Hello()))
    with contextlib.suppress(PlayerError):  # anything else would fail the test
        assert len(decoder.feed(struct.pack("<IB", len(body), kind) + body)) == 1


class Pipe:
    """A socket that takes at most `room` bytes."""

    def __init__(self, room: int) -> None:
        self.room = room
        self.taken = bytearray()

    def send(self, data: bytes) -> int:
        if not self.room:
            raise BlockingIOError
        part = data[: self.room]
        self.room -= len(part)
        self.taken += part
        return len(part)


def test_outbox_keeps_the_order_over_partial_writes() -> None:
    pipe = Pipe(0)
    outbox = Outbox(pipe.send)
    for message in [Hello(), *EVERY_KIND]:
        outbox.put(message)
    while outbox.pending:
        pipe.room = 7
        outbox.flush()
    assert Decoder().feed(bytes(pipe.taken)) == [Hello(), *EVERY_KIND]
    assert outbox.dropped == 0


def test_a_full_pipe_drops_records_and_counts_them_but_keeps_control_frames() -> None:
    pipe = Pipe(0)
    outbox = Outbox(pipe.send, limit=200)
    outbox.put(Hello())
    for number in range(100):
        outbox.put(Sent(0, number, number, b"\x90\x3c\x40"))
    outbox.put(Wanted(Request(1)))
    pipe.room = 10**6
    outbox.flush()
    outbox.put(Quit("end"))
    got = Decoder().feed(bytes(pipe.taken))
    sent = [m for m in got if isinstance(m, Sent)]
    assert 0 < len(sent) < 100
    assert outbox.dropped == 100 - len(sent)
    assert got[-3:] == [Wanted(Request(1)), Dropped(outbox.dropped), Quit("end")]


def test_outbox_tells_when_the_other_side_is_gone() -> None:
    def broken(_: bytes) -> int:
        raise BrokenPipeError

    with pytest.raises(BrokenPipeError):
        Outbox(broken).put(Hello())
