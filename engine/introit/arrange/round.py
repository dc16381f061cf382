"""Bars that go round until the nod: what sounds at their borders serves the way back and the way on."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

from introit.arrange.led import vamp_of
from introit.arrange.plan import Plan, PlannedChord
from introit.arrange.scene import Scene
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, ScoreNote
from introit.arrange.textures import Work
from introit.arrange.voicing import Voicing
from introit.performance import PlayedNote
from introit.units import TICKS_PER_QUARTER

_AROUND = TICKS_PER_QUARTER // 8
"""Ticks before a bar line within which a note that lasts over it belongs to it: players drift."""
_SHORTEST = 60
"""Ticks that a note lasts at least on either side of a bar line on which it is parted (a 64th)."""


def heard_each_round(
    scene: Scene, voicings: tuple[Voicing, ...], notes: Sequence[ScoreNote], melody: Sequence[ScoreNote]
) -> list[ScoreNote]:
    """The notes, with a short grip on the vamp's first beat where the comp would play nothing in a round.

    What it takes early from behind the vamp is not played on the way back.

    Args:
        scene: where.
        voicings: one for each unit.
        notes: of the textures.
        melody: of the whole intro.
    """
    vamp = vamp_of(scene.plan)
    if vamp is None or any(
        note.part == COMP and vamp[0] <= note.onset < vamp[1] and note.harmony_tick < vamp[1]
        for note in notes
    ):
        return list(notes)
    start = vamp[0]
    work = Work(scene, scene.passage_at(start), voicings, (), tuple(melody))
    unit, span = scene.unit_at(start), (start, start + TICKS_PER_QUARTER)
    return [*notes, *(work.sound(unit, voice, span) for voice in work.voices(unit))]


def going_round(plan: Plan, notes: Sequence[PlayedNote], vamp: tuple[int, int]) -> list[PlayedNote]:
    """The notes, so that the bars of a vamp can be followed by themselves or by what is behind them.

    A chord that lasts over the first or the last bar line of the vamp is struck again there, for who comes
    from elsewhere has not heard it. A bass note that leads into the chord behind the vamp, where the round's
    first has another root, gives way to a tone of its own chord.

    Args:
        plan: the chords.
        notes: with feel in, in ticks.
        vamp: first tick and end of the bars that go round.
    """
    for line in vamp:
        if 0 < line < plan.head_tick and plan.chords[plan.at(line)].onset < line:
            notes = _parted(notes, line)
    if vamp[1] < plan.head_tick:
        notes = _leading_both_ways(plan, notes, vamp)
    return sorted(notes)


def _parted(notes: Sequence[PlayedNote], line: int) -> list[PlayedNote]:
    """The notes, those that last over a bar line parted on it, unless their part begins anew there."""
    notes = [
        note._replace(onset=line)
        if line - _AROUND <= note.onset < line < note.end - _SHORTEST and note.harmony_tick < line
        else note
        for note in notes
    ]
    struck = {note.part for note in notes if line <= note.onset < line + _AROUND}
    return list(chain.from_iterable(_either_side(note, line, struck) for note in notes))


def _either_side(note: PlayedNote, line: int, struck: set[int]) -> list[PlayedNote]:
    lasts = note.onset < line < note.end - _SHORTEST and note.harmony_tick < line
    if not lasts or note.part in struck or note.part not in (MELODY, COMP, BASS, PEDAL):
        return [note]
    return [note._replace(end=line), note._replace(onset=line)]


def _leading_both_ways(
    plan: Plan, notes: Sequence[PlayedNote], vamp: tuple[int, int]
) -> Sequence[PlayedNote]:
    """The notes, the bass's last ones in the vamp tones of their chord where they would lead one way only."""
    start, end = vamp
    back, on = plan.chords[plan.at(start)], plan.chords[plan.at(end)]
    if _bass(back) == _bass(on):
        return notes
    last_beat = end - TICKS_PER_QUARTER - _AROUND
    return [
        note._replace(pitch=_nearest(plan.chords[plan.at(max(note.onset, note.harmony_tick))], note.pitch))
        if note.part == BASS and last_beat <= note.onset < end - _AROUND and note.harmony_tick < end
        else note
        for note in notes
    ]


def _bass(chord: PlannedChord) -> int:
    return (chord.pedal or chord.chord.bass).pitch_class


def _nearest(chord: PlannedChord, pitch: int) -> int:
    """The nearest pitch that is the chord's bass, or one of its root, third, fifth and seventh."""
    own = {_bass(chord)} | {tone.pitch_class for tone in chord.chord.required if tone.degree in (1, 3, 5, 7)}
    return min(
        (near for near in range(pitch - 6, pitch + 7) if near % 12 in own), key=lambda near: abs(near - pitch)
    )
