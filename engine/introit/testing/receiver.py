"""A synth for tests: takes what a port sends and keeps account of what sounds."""

from __future__ import annotations

from collections import Counter

from introit.live.events import Sent
from introit.live.messages import ALL_NOTES_OFF, ALL_SOUND_OFF, ChannelMessage, Kind, parse


class Receiver:
    """Keeps every message, and how often each note was begun and not ended.

    It counts voices: two note-ons of a pitch need two note-offs, which is the stricter of what synths do.

    Attributes:
        messages: all that came, in order.
        sounding: (channel, pitch) -> voices, above 0.
        honours_all_off: False for a receiver that ignores All Notes Off and All Sound Off, as it may.
    """

    def __init__(self, *, honours_all_off: bool = False) -> None:
        self.messages: list[Sent] = []
        self.sounding: Counter[tuple[int, int]] = Counter()
        self.honours_all_off = honours_all_off

    def __call__(self, sent: Sent) -> None:
        """Takes a message."""
        self.messages.append(sent)
        message = parse(sent.data)
        if not isinstance(message, ChannelMessage):
            return
        note = (message.channel, message.first)
        if message.kind is Kind.NOTE_ON:
            self.sounding[note] += 1
        elif message.kind is Kind.NOTE_OFF and self.sounding[note] > 1:
            self.sounding[note] -= 1
        elif message.kind is Kind.NOTE_OFF:
            del self.sounding[note]
        elif (
            self.honours_all_off
            and message.kind is Kind.CONTROL
            and message.first in (ALL_NOTES_OFF, ALL_SOUND_OFF)
        ):
            for sounding in [note for note in self.sounding if note[0] == message.channel]:
                del self.sounding[sounding]

    def notes(self) -> list[Sent]:
        """The note-ons and note-offs that came."""
        return [sent for sent in self.messages if sent.data[0] & 0xE0 == 0x80]

    def ons(self) -> list[Sent]:
        """The note-ons that came."""
        return [sent for sent in self.messages if sent.data[0] & 0xF0 == 0x90]

    def offs(self) -> list[Sent]:
        """The note-offs that came."""
        return [sent for sent in self.messages if sent.data[0] & 0xF0 == 0x80]
