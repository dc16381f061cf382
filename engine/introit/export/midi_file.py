"""A performance as a Standard MIDI File, format 1, 960 ticks a quarter.

File time 0 is the start of the count-off, or the intro's first downbeat when there is none. The first track
holds tempo, time and key signature and a marker at each chord, with one named `head` at the head's downbeat;
then comes one named track a part. The cue, which is for one ear before the intro, is not written.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path
from typing import TypeAlias

import mido

from introit.arrange.legal import legal
from introit.errors import UsageError, did_you_mean
from introit.export.atomic import write_atomically
from introit.export.routes import GENERAL_MIDI_ROUTES, FileRoute, Routes, all_parts
from introit.performance import PLAYED_PARTS, Performance, PlayedNote
from introit.units import TICKS_PER_QUARTER, microseconds_per_quarter

ENDINGS = (".mid", ".midi")
HEAD_MARKER = "head"

_MAJOR_BY_FIFTHS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR_BY_FIFTHS = ("Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#")


Message: TypeAlias = mido.Message | mido.MetaMessage


def write_midi(performance: Performance, path: Path, *, routes: Routes = GENERAL_MIDI_ROUTES) -> None:
    """Writes a performance to a file, whole or not at all.

    Args:
        performance: what to write.
        path: ends in `.mid` or `.midi`; an existing file is replaced, a symbolic link is followed.
        routes: channel and program by part name; parts that are missing keep the General MIDI default.

    Raises:
        UsageError: for another ending.
        IntroitError: when the place cannot be written; no partial file is left.
    """
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        given = f"ends in {path.suffix!r}" if path.suffix else "has no ending"
        hint = did_you_mean(ending, ENDINGS)
        raise UsageError(f"{path}: the file {given}; allowed are {' and '.join(ENDINGS)}. {hint}".strip())
    write_atomically(path, midi_bytes(performance, routes=routes))


def midi_bytes(performance: Performance, *, routes: Routes = GENERAL_MIDI_ROUTES) -> bytes:
    """The file's bytes; see `write_midi`."""
    chosen = all_parts(routes, performance.sounds)
    by_part = [chosen[part] for part in PLAYED_PARTS]
    notes = legal(performance.notes, lambda part: (0, by_part[part].channel))
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8")
    file.tracks.append(_conductor_track(performance))
    for number, part in enumerate(PLAYED_PARTS):
        mine = [note for note in notes if note.part == number]
        if mine:
            file.tracks.append(_part_track(part, mine, by_part[number], performance))
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def _conductor_track(performance: Performance) -> mido.MidiTrack:
    start = performance.start_tick
    events: list[tuple[int, Message]] = [
        (start, mido.MetaMessage("track_name", name=performance.title)),
        (start, mido.MetaMessage("set_tempo", tempo=microseconds_per_quarter(performance.tempo))),
        (start, mido.MetaMessage("time_signature", numerator=performance.beats, denominator=4)),
        (start, mido.MetaMessage("key_signature", key=_signature_name(performance))),
    ]
    events += [
        (mark.tick, mido.MetaMessage("marker", text=ascii_symbol(mark.symbol))) for mark in performance.chords
    ]
    events.append((performance.head_tick, mido.MetaMessage("marker", text=HEAD_MARKER)))
    return _track(events, performance)


def _part_track(
    name: str, notes: list[PlayedNote], route: FileRoute, performance: Performance
) -> mido.MidiTrack:
    start = performance.start_tick
    head: list[tuple[int, Message]] = [(start, mido.MetaMessage("track_name", name=name))]
    if route.program is not None:
        head.append((start, mido.Message("program_change", channel=route.channel, program=route.program)))
    ons = [(note.onset, 1, _on(route.channel, note)) for note in notes]
    offs = [(note.end, 0, mido.Message("note_off", channel=route.channel, note=note.pitch)) for note in notes]
    # At one tick an off comes before an on, or a repeated pitch would fall silent.
    timed = sorted([*ons, *offs], key=lambda event: (event[0], event[1], event[2].note))
    return _track([*head, *((tick, message) for tick, _, message in timed)], performance)


def _on(channel: int, note: PlayedNote) -> mido.Message:
    return mido.Message("note_on", channel=channel, note=note.pitch, velocity=note.velocity)


def _track(events: Iterable[tuple[int, Message]], performance: Performance) -> mido.MidiTrack:
    """Events at absolute ticks, in order, as a track of time differences that ends on the head's downbeat."""
    track = mido.MidiTrack()
    now = performance.start_tick
    for tick, message in events:
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(0, performance.end_tick - now)))
    return track


def ascii_symbol(symbol: str) -> str:
    """A chord symbol in the characters that every reader of a Standard MIDI File shares."""
    return symbol.replace("°", "dim").replace("ø", "m7b5")


def _signature_name(performance: Performance) -> str:
    """The key as mido names a signature: `Eb`, or `Cm`; the file itself holds fifths and a minor flag."""
    tonic = performance.key.split()[0]
    allowed = _MINOR_BY_FIFTHS if performance.minor else _MAJOR_BY_FIFTHS
    if tonic not in allowed:
        raise UsageError(f"key {performance.key!r} has no key signature; allowed are {', '.join(allowed)}")
    return f"{tonic}m" if performance.minor else tonic
