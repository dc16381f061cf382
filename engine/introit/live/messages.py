"""MIDI messages as bytes, made and read by our own code.

Source of every number here: the MIDI 1.0 Detailed Specification (channel voice messages, channel mode
messages, system common, system real time; its tables I to VI). Channels are 0 to 15, as on the wire.
"""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

DATA_MAX = 127
MODULATION = 1
"""Controller 1, modulation wheel."""
CHANNEL_VOLUME = 7
"""Controller 7, channel volume."""
EXPRESSION = 11
"""Controller 11, expression: a part of the channel volume, 127 being all of it."""
DAMPER = 64
"""Controller 64, damper (sustain): what most foot-switches send."""
ALL_SOUND_OFF = 120
ALL_NOTES_OFF = 123
"""Channel mode messages: controllers 120 and 123, value 0."""
CLOCK = b"\xf8"
START = b"\xfa"
CONTINUE = b"\xfb"
STOP = b"\xfc"
"""System real time: 24 clocks a quarter note; the next clock after Start is the song's first."""
SONG_SELECT = 0xF3
SONG_POSITION = 0xF2
SONG_POSITION_MAX = (1 << 14) - 1
"""Sixteenths; 1023 bars of four quarters and 15 sixteenths."""
BEND_CENTRE = 1 << 13
"""The pitch bend wheel at rest, 2000H of 0 to 3FFFH."""
ACTIVE_SENSING = b"\xfe"
"""Once sent, the receiver expects something at least every 300 ms, else it turns all voices off."""
ACTIVE_SENSING_LIMIT_MS = 300
RELEASE_VELOCITY = 64
"""What a sender without release velocity sends in a note-off (40H)."""


class Kind(IntEnum):
    """Channel messages by their status nibble, and `SYSTEM` for all that belong to no channel."""

    NOTE_OFF = 0x80
    NOTE_ON = 0x90
    KEY_PRESSURE = 0xA0
    CONTROL = 0xB0
    PROGRAM = 0xC0
    CHANNEL_PRESSURE = 0xD0
    BEND = 0xE0
    SYSTEM = 0xF0


class ChannelMessage(NamedTuple):
    """A message for one channel; a note-on with velocity 0 is read as the note-off that it is.

    Attributes:
        kind: a `Kind`, never `SYSTEM`.
        channel: 0 to 15.
        first: pitch, controller or program number, pressure, or the bend's low seven bits.
        second: velocity, value, pressure, or the bend's high seven bits; 0 where there is none.
    """

    kind: Kind
    channel: int
    first: int
    second: int


class SystemMessage(NamedTuple):
    """System exclusive, system common or real time: passed on as what it is.

    Attributes:
        status: 0xF0 to 0xFF.
        data: the whole message, status included.
    """

    status: int
    data: bytes


_DATA_BYTES = {
    Kind.NOTE_OFF: 2,
    Kind.NOTE_ON: 2,
    Kind.KEY_PRESSURE: 2,
    Kind.CONTROL: 2,
    Kind.PROGRAM: 1,
    Kind.CHANNEL_PRESSURE: 1,
    Kind.BEND: 2,
}
_SYSTEM_DATA_BYTES = {
    0xF1: 1,
    0xF2: 2,
    0xF3: 1,
    0xF6: 0,
    0xF8: 0,
    0xFA: 0,
    0xFB: 0,
    0xFC: 0,
    0xFE: 0,
    0xFF: 0,
}
"""System messages of fixed length; F4, F5, F9 and FD are undefined, F7 only ends a system exclusive."""
_SYSEX, _END_OF_EXCLUSIVE = 0xF0, 0xF7


def _checked(name: str, value: int, *, low: int = 0, high: int = DATA_MAX) -> int:
    if not low <= value <= high:
        raise ValueError(f"{name} is {value!r}; allowed is {low} to {high}")
    return value


def _message(kind: Kind, channel: int, *data: int) -> bytes:
    return bytes((kind | _checked("channel", channel, high=15), *data))


def note_on(channel: int, pitch: int, velocity: int) -> bytes:
    """A note-on; velocity 1 to 127, since 0 would be a note-off.

    Raises:
        ValueError: if a value is out of range.
    """
    return _message(Kind.NOTE_ON, channel, _checked("pitch", pitch), _checked("velocity", velocity, low=1))


def note_off(channel: int, pitch: int, velocity: int = RELEASE_VELOCITY) -> bytes:
    """A note-off (status 8n, not a note-on with velocity 0).

    Raises:
        ValueError: if a value is out of range.
    """
    return _message(Kind.NOTE_OFF, channel, _checked("pitch", pitch), _checked("velocity", velocity))


def control(channel: int, number: int, value: int) -> bytes:
    """A control change, or a channel mode message for numbers 120 to 127.

    Raises:
        ValueError: if a value is out of range.
    """
    return _message(Kind.CONTROL, channel, _checked("controller", number), _checked("value", value))


def program(channel: int, number: int) -> bytes:
    """A program change; number 0 to 127 (printed tables count from 1).

    Raises:
        ValueError: if a value is out of range.
    """
    return _message(Kind.PROGRAM, channel, _checked("program", number))


def bend(channel: int, value: int) -> bytes:
    """A pitch bend change, 0 to 16,383, the low seven bits first; `BEND_CENTRE` is none.

    Raises:
        ValueError: if a value is out of range.
    """
    _checked("bend", value, high=(1 << 14) - 1)
    return _message(Kind.BEND, channel, value & 0x7F, value >> 7)


def all_notes_off(channel: int) -> bytes:
    """The channel mode message All Notes Off: controller 123, value 0."""
    return control(channel, ALL_NOTES_OFF, 0)


def song_position(sixteenths: int) -> bytes:
    """Song Position Pointer: the low seven bits first.

    Raises:
        ValueError: if the position is not within 0 to 16,383 sixteenths.
    """
    if not 0 <= sixteenths <= SONG_POSITION_MAX:
        raise ValueError(f"song position is {sixteenths}; allowed is 0 to {SONG_POSITION_MAX} sixteenths")
    return bytes((SONG_POSITION, sixteenths & 0x7F, sixteenths >> 7))


def parse(data: bytes) -> ChannelMessage | SystemMessage | None:
    """Reads one complete message, without running status; None for anything else."""
    if not data or data[0] < 0x80:
        return None
    if data[0] >= Kind.SYSTEM:
        return _parse_system(data)
    kind, channel = Kind(data[0] & 0xF0), data[0] & 0x0F
    if len(data) != 1 + _DATA_BYTES[kind] or max(data[1:]) > DATA_MAX:
        return None
    first, second = data[1], data[2] if len(data) > 2 else 0
    if kind is Kind.NOTE_ON and second == 0:
        kind = Kind.NOTE_OFF
    return ChannelMessage(kind, channel, first, second)


def _parse_system(data: bytes) -> SystemMessage | None:
    status, body = data[0], data[1:]
    if status == _SYSEX:
        if not body or body[-1] != _END_OF_EXCLUSIVE:
            return None
        body = body[:-1]
    elif _SYSTEM_DATA_BYTES.get(status) != len(body):
        return None
    return None if any(byte > DATA_MAX for byte in body) else SystemMessage(status, data)
