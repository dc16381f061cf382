"""A sound check: what the parts of an intro play, one part after the other, round and round."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from introit.performance import PARTS, ChordMark, Performance, PlayedNote
from introit.units import TICKS_PER_QUARTER

BARS: Final = 2
"""So many bars are heard of each part: from the first in which it plays."""
ORDER: Final = ("bass", "pedal", "comp", "melody", "ride", "click")
"""From the ground up."""
_CLICK = PARTS.index("click")
_CLICK_PITCH, _CLICK_VELOCITY, _CLICK_TICKS = 37, 96, 240
"""Where the tune counts nobody in, a side stick of General MIDI level 1's percussion is clicked."""


def sound_check(performance: Performance) -> Performance:
    """A performance that goes round: each part alone, at the velocities that it plays with; the click last.

    Its chords' names are those of the parts. A part that the intro has not is left out.
    """
    bar = performance.bar_ticks
    notes: list[PlayedNote] = []
    marks: list[ChordMark] = []
    for part in ORDER:
        heard = list(_alone(performance, PARTS.index(part)))
        if heard:
            begin = len(marks) * BARS * bar
            notes += (_later(note, begin) for note in heard)
            marks.append(ChordMark(begin, part, ""))
    length = len(marks) * BARS * bar
    return replace(
        performance,
        start_tick=0,
        head_tick=length + bar,  # which is never reached: there is no nod
        end_tick=length + bar,
        notes=tuple(sorted(notes, key=lambda note: (note.onset, note.part, note.pitch))),
        chords=tuple(marks),
        vamp=(0, length),
        once_more=False,
        waits=(),
        out_of_time=False,
        tapped=False,
    )


def _alone(performance: Performance, part: int) -> Iterator[PlayedNote]:
    """The notes of a part in so many bars, from the bar that it begins in; the first bar's tick is 0."""
    bar = performance.bar_ticks
    notes = [note for note in performance.notes if note.part == part]
    if part == _CLICK:
        yield from _clicks(notes, performance)
        return
    if not notes:
        return
    begin = max(0, notes[0].onset // bar * bar)
    end = min(begin + BARS * bar, performance.head_tick)
    for note in notes:
        if begin <= note.onset < end:
            yield _later(note._replace(end=min(note.end, end)), -begin)


def _clicks(notes: list[PlayedNote], performance: Performance) -> Iterator[PlayedNote]:
    count = performance.bar_ticks * BARS
    if not notes:
        for tick in range(0, count, TICKS_PER_QUARTER):
            yield PlayedNote(tick, tick + _CLICK_TICKS, tick, _CLICK, _CLICK_PITCH, _CLICK_VELOCITY)
        return
    begin = notes[0].onset // performance.bar_ticks * performance.bar_ticks
    for note in notes:
        if note.onset < begin + count:
            yield _later(note, -begin)


def _later(note: PlayedNote, ticks: int) -> PlayedNote:
    return note._replace(
        onset=note.onset + ticks, end=note.end + ticks, harmony_tick=max(0, note.harmony_tick + ticks)
    )
