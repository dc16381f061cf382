"""What is handed to the player: notes at exact ticks, with feel in, and nothing left to decide.

The lowest musical value of the house. The arranger makes it, the live core plays it, exports write it;
so it imports neither, and it travels between the two processes as bytes of its own (never pickle).
"""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass
from typing import NamedTuple

from introit.units import TICKS_PER_QUARTER

PARTS = ("melody", "comp", "bass", "pedal", "ride", "click", "cue")
"""The parts, in the order of their numbers. `pedal` is the pedal point; `cue` what one ear hears before."""
PLAYED_PARTS = PARTS[:-1]
"""Those of an intro with its count-off; the cue is no part of it."""


class PlayedNote(NamedTuple):
    """One note as it will sound.

    Attributes:
        onset: tick of the note-on, from the intro's first downbeat (0); negative only in the count-off.
        end: tick of the note-off, after `onset`, at most the head's downbeat unless the landing rings.
        harmony_tick: onset of the chord the note belongs to (a pushed note belongs to the coming chord).
        part: index into `PARTS`.
        pitch: MIDI note number, 0 to 127.
        velocity: 1 to 127.
    """

    onset: int
    end: int
    harmony_tick: int
    part: int
    pitch: int
    velocity: int


class ChordMark(NamedTuple):
    """A chord as it is shown while it sounds.

    Attributes:
        tick: where it begins, from the intro's first downbeat.
        symbol: chord symbol in the key, such as `Bb13(#11)`.
        numeral: the numeral it came from, such as `bII13(#11)`.
    """

    tick: int
    symbol: str
    numeral: str


class Wait(NamedTuple):
    """Where time waits for the player's foot.

    Attributes:
        tick: all that belongs to the chord has begun before it; nothing begins from here until `to`.
        to: where time goes on, at once, when it is released; what rings until then ends there.
        fermata: True for a held chord, which waits in time, too; otherwise time waits until it is kept.
    """

    tick: int
    to: int
    fermata: bool = False


class Sound(NamedTuple):
    """How a part sounds in this tune, where that is not as in the rig.

    Attributes:
        part: index into `PARTS`.
        program: 0 to 127 (the wire's numbering); None for the rig's.
        level: channel volume 0 to 127; None for the rig's.
    """

    part: int
    program: int | None
    level: int | None


_NOTE = struct.Struct("<iiiBBB")
_HEADER = struct.Struct("<II")


@dataclass(frozen=True, slots=True)
class Performance:
    """An intro for one tune in one key, ready to play.

    Attributes:
        intro: the intro's id.
        title: the tune's title, for the screen.
        key: the key's name as shown, such as `Eb minor`.
        tonic: pitch class of the tonic, 0 (C) to 11.
        minor: whether the key is minor.
        tempo: quarter notes a minute.
        beats: quarter-note beats a bar.
        start_tick: 0, or minus the length of the count-off.
        head_tick: the head's downbeat: bars x beats x 960.
        end_tick: nothing sounds after it: `head_tick`, or later where the landing goes on over the downbeat.
        notes: ordered by (onset, part, pitch); legal (see `arrange.legal`).
        chords: ordered by tick.
        vamp: first tick and end of the bars that go round until the nod, on bar lines; None when they don't.
        exits: ticks within the vamp, on bar lines in rising order, at which the nod leaves it as at its end.
        once_more: whether the player may ask for another round while it plays: of the vamp's bars, or of all.
        waits: where time waits, in order; with any, nothing goes round.
        out_of_time: whether it begins out of time, each press playing the next chord, until the last wait.
        tapped: whether the player taps the count-off, and with it the tempo.
        tapped_on: whether the player taps a bar before time goes on in time, after a wait.
        start_clock: what begins with MIDI clock's Start, `intro` or `head`; empty for what the rig says.
        cue: the key for one ear, quietly: tonic, then the head's first chord; from tick 0.
        first_note: the head's first melody note, likewise; empty where nobody knows it.
        rest: ticks of rest after the head's downbeat, a bar at least, until what is ready next begins by
            itself; 0 where nothing does.
        number: of a pass that is practised, from 1, told again with all that is shown of it; else 0.
        sounds: of the parts that sound otherwise than in the rig; a part once.
    """

    intro: str
    title: str
    key: str
    tonic: int
    minor: bool
    tempo: float
    beats: int
    start_tick: int
    head_tick: int
    end_tick: int
    notes: tuple[PlayedNote, ...]
    chords: tuple[ChordMark, ...]
    vamp: tuple[int, int] | None = None
    exits: tuple[int, ...] = ()
    once_more: bool = False
    waits: tuple[Wait, ...] = ()
    out_of_time: bool = False
    tapped: bool = False
    tapped_on: bool = False
    start_clock: str = ""
    cue: tuple[PlayedNote, ...] = ()
    first_note: tuple[PlayedNote, ...] = ()
    sounds: tuple[Sound, ...] = ()
    rest: int = 0
    number: int = 0

    @property
    def bar_ticks(self) -> int:
        """The length of a bar."""
        return self.beats * TICKS_PER_QUARTER

    def to_bytes(self) -> bytes:
        """Bytes for another process on the same machine; `from_bytes` reads them back equal."""
        head = json.dumps(
            {
                "intro": self.intro,
                "title": self.title,
                "key": self.key,
                "tonic": self.tonic,
                "minor": self.minor,
                "tempo": self.tempo,
                "beats": self.beats,
                "start_tick": self.start_tick,
                "head_tick": self.head_tick,
                "end_tick": self.end_tick,
                "chords": self.chords,
                "vamp": self.vamp,
                "exits": self.exits,
                "once_more": self.once_more,
                "waits": self.waits,
                "out_of_time": self.out_of_time,
                "tapped": self.tapped,
                "tapped_on": self.tapped_on,
                "start_clock": self.start_clock,
                "cue": self.cue,
                "first_note": self.first_note,
                "sounds": self.sounds,
                "rest": self.rest,
                "number": self.number,
            },
            separators=(",", ":"),
        ).encode()
        body = b"".join(_NOTE.pack(*note) for note in self.notes)
        return _HEADER.pack(len(head), len(self.notes)) + head + body

    @classmethod
    def from_bytes(cls, data: bytes) -> Performance:
        """Reads what `to_bytes` wrote.

        Raises:
            ValueError: if the bytes are cut short or are not a performance.
        """
        try:
            head_length, note_count = _HEADER.unpack_from(data)
            body = _HEADER.size + head_length
            head = json.loads(data[_HEADER.size : body])
            raw = data[body : body + note_count * _NOTE.size]
            notes = tuple(PlayedNote(*fields) for fields in _NOTE.iter_unpack(raw))
            chords = tuple(ChordMark(*fields) for fields in head.pop("chords"))
            head["vamp"] = tuple(head["vamp"]) if head["vamp"] else None
            head["exits"] = tuple(head["exits"])
            for beside in ("cue", "first_note"):
                head[beside] = tuple(PlayedNote(*fields) for fields in head[beside])
            head["sounds"] = tuple(Sound(*fields) for fields in head["sounds"])
            head["waits"] = tuple(Wait(*fields) for fields in head["waits"])
            if len(notes) != note_count:
                raise ValueError(f"{note_count} notes announced, {len(notes)} found")
            return cls(notes=notes, chords=chords, **head)
        except (struct.error, KeyError, TypeError, UnicodeDecodeError) as error:
            raise ValueError(f"not a performance: {error}") from error
