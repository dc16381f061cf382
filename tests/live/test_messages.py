"""Message bytes against the MIDI 1.0 Detailed Specification (tables I to VI) and mido, a general library."""

from __future__ import annotations

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.live.messages import (
    ACTIVE_SENSING,
    ALL_NOTES_OFF,
    BEND_CENTRE,
    CHANNEL_VOLUME,
    DAMPER,
    ChannelMessage,
    Kind,
    SystemMessage,
    all_notes_off,
    bend,
    control,
    note_off,
    note_on,
    parse,
    program,
)

channels, values = st.integers(0, 15), st.integers(0, 127)


def test_bytes_are_those_of_the_specification() -> None:
    # MIDI 1.0: note-off 8nH, note-on 9nH, control change BnH, program change CnH (table II); controllers 7
    # channel volume, 64 damper (table III); All Notes Off 123, value 0 (table IV); Active Sensing FEH (V).
    assert note_on(0, 60, 100) == b"\x90\x3c\x64"
    assert note_off(15, 60) == b"\x8f\x3c\x40"
    assert control(2, CHANNEL_VOLUME, 127) == b"\xb2\x07\x7f"
    assert program(9, 0) == b"\xc9\x00"
    assert all_notes_off(3) == b"\xb3\x7b\x00"
    # Pitch bend EnH, the low seven bits first, at rest 2000H: 00H 40H (table II and the text on it).
    assert bend(5, BEND_CENTRE) == b"\xe5\x00\x40"
    assert bend(0, 129) == b"\xe0\x01\x01"
    assert (DAMPER, ALL_NOTES_OFF, ACTIVE_SENSING) == (64, 123, b"\xfe")


@given(channels, values, st.integers(1, 127))
def test_mido_reads_what_is_made(channel: int, first: int, second: int) -> None:
    # mido 1.3 as an independent reader.
    on = mido.Message.from_bytes(note_on(channel, first, second))
    assert (on.type, on.channel, on.note, on.velocity) == ("note_on", channel, first, second)
    off = mido.Message.from_bytes(note_off(channel, first, second))
    assert (off.type, off.channel, off.note, off.velocity) == ("note_off", channel, first, second)
    change = mido.Message.from_bytes(control(channel, first, second))
    assert (change.type, change.channel, change.control, change.value) == (
        "control_change",
        channel,
        first,
        second,
    )
    wheel = mido.Message.from_bytes(bend(channel, first | second << 7))
    assert (wheel.type, wheel.pitch) == ("pitchwheel", (first | second << 7) - BEND_CENTRE)
    sound = mido.Message.from_bytes(program(channel, first))
    assert (sound.type, sound.channel, sound.program) == ("program_change", channel, first)


def test_note_on_with_velocity_0_is_a_note_off() -> None:
    # MIDI 1.0, note-on: "a velocity of 0 is a note-off".
    assert parse(b"\x91\x40\x00") == ChannelMessage(Kind.NOTE_OFF, 1, 0x40, 0)


@pytest.mark.parametrize(
    "data", [b"\xfe", b"\xf8", b"\xf2\x01\x02", b"\xf6", b"\xf0\x7e\x00\xf7", b"\xf0\xf7"]
)
def test_system_messages_pass_as_what_they_are(data: bytes) -> None:
    assert parse(data) == SystemMessage(data[0], data)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x40",
        b"\x90",
        b"\x90\x40",
        b"\x90\x40\x40\x40",
        b"\x90\x80\x40",
        b"\xc0\x01\x02",
        b"\xf0\x01",
        b"\xf0\x90\xf7",
        b"\xf0",
        b"\xf7",
        b"\xf4",
        b"\xf9",
        b"\xfd",
        b"\xfe\x00",
    ],
)
def test_malformed_bytes_are_nothing(data: bytes) -> None:
    assert parse(data) is None


@given(st.binary(max_size=6))
def test_any_bytes_are_read_or_refused_as_mido_does(data: bytes) -> None:
    try:
        theirs = mido.Message.from_bytes(data)
    except (ValueError, IndexError, TypeError):
        theirs = None
    ours = parse(data)
    if ours is None and theirs is not None:
        # mido 1.3 does not check the length of these three: bend, quarter frame, song position.
        assert theirs.type in ("pitchwheel", "quarter_frame", "songpos")
    else:
        assert (ours is None) == (theirs is None)
    if isinstance(ours, ChannelMessage) and theirs is not None:
        assert ours.channel == theirs.channel


@pytest.mark.parametrize(
    "make",
    [
        lambda: note_on(16, 60, 1),
        lambda: note_on(0, 128, 1),
        lambda: note_on(0, 60, 0),
        lambda: control(0, -1, 0),
        lambda: program(0, 128),
        lambda: bend(0, 1 << 14),
    ],
)
def test_values_out_of_range_are_refused(make: object) -> None:
    with pytest.raises(ValueError, match="allowed is"):
        make()  # type: ignore[operator]
