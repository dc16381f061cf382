"""Music for benchmarks, by rule, as a performance and as a MIDI file for mido's own player.

At 125 quarter notes a minute a tick lasts 500 microseconds, 24 frames of 48 kHz: every note is due on a whole
frame, so that an outside listener can tell from the score alone on which.
"""

from __future__ import annotations

import random
from pathlib import Path

from introit.performance import PARTS, ChordMark, Performance, PlayedNote
from introit.units import TICKS_PER_QUARTER

TEMPO = 125
TICKS_A_SECOND = 2000
FRAMES_A_TICK = 24
RATE = 48_000
PITCHES = 128
SPREAD_PARTS = 5
"""Parts that random notes go round through: each on a channel of its own."""


def performance(notes: list[PlayedNote], *, beats: int = 4, vamp_bars: int = 0) -> Performance:
    """Notes as an intro that plays at once, without count-off; ends on the bar line after the last."""
    bar = beats * TICKS_PER_QUARTER
    head = -(-max(note.end for note in notes) // bar) * bar
    return Performance(
        intro="measured",
        title="Measured",
        key="C",
        tonic=0,
        minor=False,
        tempo=TEMPO,
        beats=beats,
        start_tick=0,
        head_tick=head,
        end_tick=head,
        notes=tuple(sorted(notes, key=lambda note: (note.onset, note.part, note.pitch))),
        chords=(ChordMark(0, "C", "I"),),
        vamp=(0, vamp_bars * bar) if vamp_bars else None,
    )


def scattered(events: int, a_second: float, seed: int = 7) -> Performance:
    """So many note messages at times of chance, half of them note-offs; a pitch returns after its end."""
    dice = random.Random(seed)
    count = events // 2
    span = round(count / (a_second / 2) * TICKS_A_SECOND)
    onsets = sorted([0, *(dice.randrange(span) for _ in range(count - 1))])
    again = SPREAD_PARTS * PITCHES
    longest = max(2, min(800, round(again / (a_second / 2) * TICKS_A_SECOND * 0.6)))
    notes, free = [], [0] * again
    for number, onset in enumerate(onsets):
        place = number % again
        onset = max(onset, free[place])
        free[place] = onset + dice.randrange(1, longest) + 1
        part, pitch = place % SPREAD_PARTS, place // SPREAD_PARTS
        velocity = 1 + number * 31 % 127
        notes.append(PlayedNote(onset, free[place] - 1, onset, part, pitch, velocity))
    return performance(notes, beats=1)


def dense(bars: int) -> Performance:
    """Eighth-note chords of twelve pitches in three parts, each held until just before the next."""
    notes = []
    step = TICKS_PER_QUARTER // 2
    for onset in range(0, bars * 4 * TICKS_PER_QUARTER, step):
        for part in range(3):
            lowest = 36 + 24 * part + onset // step % 5
            notes += [PlayedNote(onset, onset + step - 20, onset, part, lowest + 3 * n, 80) for n in range(4)]
    return performance(notes)


def one_note(bars: int = 1) -> Performance:
    """A held note from the first downbeat."""
    return performance([PlayedNote(0, bars * 4 * TICKS_PER_QUARTER, 0, PARTS.index("comp"), 60, 80)])


def beat_tick(number: int) -> int:
    """Where a beat's note lies: a tick later with each beat of a bar, each at its own place in a period."""
    return number * TICKS_PER_QUARTER + number % 4


def beats(count: int) -> list[PlayedNote]:
    """A short bass note for each beat."""
    bass, half = PARTS.index("bass"), TICKS_PER_QUARTER // 2
    places = [beat_tick(number) for number in range(count)]
    return [PlayedNote(at, at + half, at, bass, 36 + n % 4, 80) for n, at in enumerate(places)]


def going_round(count: int = 4) -> Performance:
    """A bar that goes round until the nod: notes on the first so many of its beats; a bar to end with."""
    end = 4 * TICKS_PER_QUARTER
    last = PlayedNote(end, end + TICKS_PER_QUARTER, end, PARTS.index("bass"), 48, 80)
    return performance([*beats(count), last], vamp_bars=1)


def messages(one: Performance) -> list[tuple[int, bytes]]:
    """(tick, message) of every note, in order; note-offs first."""
    found = []
    for note in one.notes:
        found.append((note.onset, 1, bytes((0x90 | note.part, note.pitch, note.velocity))))
        found.append((note.end, 0, bytes((0x80 | note.part, note.pitch, 64))))
    return [(tick, data) for tick, _, data in sorted(found)]


def write_for_mido(one: Performance, path: Path) -> None:
    """The same notes as a MIDI file, by mido itself."""
    import mido

    track, before = mido.MidiTrack(), 0
    track.append(mido.MetaMessage("set_tempo", tempo=round(60e6 / TEMPO)))
    for tick, data in messages(one):
        track.append(mido.Message.from_bytes(data).copy(time=tick - before))
        before = tick
    mido.MidiFile(type=0, ticks_per_beat=TICKS_PER_QUARTER, tracks=[track]).save(path)
