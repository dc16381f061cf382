"""Bars taken out of a performance: whole notes, none before the first bar line, none over the last."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from introit.arrange.score import BASS, COMP, MELODY, PEDAL
from introit.performance import ChordMark, PlayedNote
from introit.units import TICKS_PER_QUARTER

AROUND = TICKS_PER_QUARTER // 16
"""A note that begins so few ticks before a bar line is that bar's: players drift."""
_SHORTEST = TICKS_PER_QUARTER // 16
"""What would last shorter than a 64th on the far side of a bar line is left out there."""
_HELD = frozenset({MELODY, COMP, BASS, PEDAL})


def belongs(note: PlayedNote) -> int:
    """The tick that says to which bar a note belongs: a pushed one to that of its chord."""
    return max(note.onset + AROUND, note.harmony_tick)


def stretch(notes: Iterable[PlayedNote], start: int, end: int) -> list[PlayedNote]:
    """The notes of a stretch, at their own ticks.

    What is pushed over its first bar line begins on it. What was begun before and still sounds begins on it
    too, unless its part strikes anew there. What lasts over its end ends there.

    Args:
        notes: in any order.
        start: tick of its first bar line.
        end: tick of the bar line behind it.
    """
    notes = [note for note in notes if note.end > start]
    own = [note for note in notes if start <= belongs(note) < end]
    struck = {note.part for note in own if note.onset < start + AROUND}
    held = [
        note
        for note in notes
        if belongs(note) < start
        and note.end > start + _SHORTEST
        and note.part in _HELD
        and note.part not in struck
    ]
    cut = [_between(note, start, end) for note in (*own, *held)]
    return sorted(note for note in cut if note.end > note.onset)


def _between(note: PlayedNote, start: int, end: int) -> PlayedNote:
    return note._replace(
        onset=max(note.onset, start), end=min(note.end, end), harmony_tick=max(note.harmony_tick, start)
    )


def shifted(notes: Iterable[PlayedNote], by: int) -> list[PlayedNote]:
    """The notes so many ticks later."""
    return [
        note._replace(onset=note.onset + by, end=note.end + by, harmony_tick=note.harmony_tick + by)
        for note in notes
    ]


def chords_within(chords: Sequence[ChordMark], start: int, end: int) -> list[ChordMark]:
    """The chords of a stretch, from tick 0; the first may have begun before it."""
    before = [chord for chord in chords if chord.tick <= start][-1:]
    inside = [chord for chord in chords if start < chord.tick < end]
    return [chord._replace(tick=max(chord.tick, start) - start) for chord in (*before, *inside)]
