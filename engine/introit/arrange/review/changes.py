"""Rules of harmony: bass and comp agree at every change, and the melody belongs to its chords."""

from __future__ import annotations

from collections.abc import Iterator

from introit.arrange.plan import PlannedChord
from introit.arrange.review.breach import Breach, pitch_name, said
from introit.arrange.review.ending import leads_home
from introit.arrange.review.hearing import Hearing
from introit.arrange.score import COMP
from introit.theory.chord import Chord
from introit.units import TICKS_PER_QUARTER

STRONG_BEATS = {3: (0,), 4: (0, 2), 5: (0, 3)}
"""Beats from 0 on which a melody note must belong, by beats a bar (common practice, no source)."""
PUSH_REACH = TICKS_PER_QUARTER
"""A push takes the coming chord at most a beat early."""
_STEP = 2


def belonging(hearing: Hearing) -> Iterator[Breach]:
    """Comp and bass sound the chord of the moment, or push the coming one from within a beat."""
    for note in [*hearing.comp, *hearing.low_notes]:
        early = note.harmony_tick - note.onset
        present = hearing.plan.chords[hearing.plan.at(note.onset)]
        is_own = note.harmony_tick == present.onset or note.onset >= hearing.plan.head_tick
        is_push = 0 < early <= PUSH_REACH and note.harmony_tick == present.end
        if not (is_own or is_push):
            text = f"{said(note)} belongs to another chord than {present.chord.symbol}"
            yield hearing.breach("change", note.onset, text)


def bass_notes(hearing: Hearing) -> Iterator[Breach]:
    """At a change the bass has the chord's bass: its root, the note after the slash, or the pedal point.

    Where a chord comes again the bass may take another of its notes (from memory).
    """
    for planned in hearing.changes:
        own = next((note for note in hearing.low_notes if note.harmony_tick == planned.onset), None)
        if own is not None and own.onset <= planned.onset and own.pitch % 12 != _bass_of(planned):
            wanted = planned.pedal or planned.chord.bass
            text = f"{said(own)} under {planned.chord.symbol}, which wants {wanted}"
            yield hearing.breach("change", own.onset, text)


def held_over(hearing: Hearing) -> Iterator[Breach]:
    """What sounds on through a change belongs to the new chord as well."""
    for planned in hearing.changes[1:]:
        tick = planned.onset
        members = _members(planned.chord)
        for note in [*hearing.comp, *hearing.low_notes]:
            if note.onset >= tick or note.end <= tick or note.harmony_tick == tick:
                continue
            low = note.part != COMP
            if note.pitch % 12 == _bass_of(planned) or (not low and note.pitch % 12 in members):
                continue
            text = f"{said(note)} is held into {planned.chord.symbol}"
            yield hearing.breach("change", tick, text)


def melody_tones(hearing: Hearing) -> Iterator[Breach]:
    """On strong beats the melody has chord tones, available or prepared tensions; others resolve by step.

    The last note resolves in the head, where it leads to its first note.
    """
    line = hearing.melody
    strong = STRONG_BEATS[hearing.plan.meter.beats]
    for index, note in enumerate(line):
        if note.pitch % 12 in _members(hearing.chord(note)):
            continue
        before = line[index - 1] if index else None
        after = line[index + 1] if index + 1 < len(line) else None
        step = 0 if after is None else abs(after.pitch - note.pitch)
        resolves = 0 < step <= _STEP or (after is None and leads_home(hearing, note))
        beat, off = divmod(note.onset % hearing.bar_ticks, TICKS_PER_QUARTER)
        prepared = before is not None and before.pitch == note.pitch
        symbol = hearing.chord(note).symbol
        if beat in strong and not off and not (prepared and resolves):
            text = f"melody: {pitch_name(note.pitch)} on a strong beat is no tone of {symbol}"
            yield hearing.breach("melody tone", note.onset, text)
        elif not resolves:
            text = f"melody: {pitch_name(note.pitch)} is no tone of {symbol} and does not move on by step"
            yield hearing.breach("melody tone", note.onset, text)


def _bass_of(planned: PlannedChord) -> int:
    return (planned.pedal or planned.chord.bass).pitch_class


def _members(chord: Chord) -> set[int]:
    return {tone.pitch_class for tone in (*chord.required, *chord.optional)}


RULES = (belonging, bass_notes, held_over, melody_tones)
