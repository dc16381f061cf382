"""The melody as a riff that follows the chords, and where it leaves room for the comp."""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.comp import Figure
from introit.arrange.melody import HIGHEST, LOWEST, melody_limit
from introit.arrange.plan import Plan
from introit.arrange.score import MELODY, ScoreNote
from introit.library.model import RiffNote
from introit.theory.chord import Chord
from introit.theory.pitch import Tone
from introit.units import ticks

_CENTRE = 72


def riff_notes(plan: Plan) -> list[ScoreNote]:
    """The riff in each of its bars, transposed by chord degree to the chord that sounds."""
    limit = melody_limit(plan)
    notes: list[ScoreNote] = []
    for bar in _riff_bars(plan):
        start = bar * plan.bar_ticks
        for written in plan.intro.melody.riff:
            onset = start + ticks(written.position)
            end = min(onset + ticks(written.length), limit)
            if onset < end:
                planned = plan.chords[plan.at(onset)]
                pitch = _riff_pitch(planned.chord, written, plan.intro.melody.riff)
                notes.append(
                    ScoreNote(onset, end - onset, planned.onset, MELODY, pitch, accent=not written.position)
                )
    return notes


def riff_figures(plan: Plan, notes: Sequence[ScoreNote]) -> tuple[Figure, ...]:
    """For each bar with riff notes: from its first onset to its last end, and the chords that it states."""
    by_bar: dict[int, list[ScoreNote]] = {}
    for note in notes:
        by_bar.setdefault(note.onset // plan.bar_ticks, []).append(note)
    return tuple(
        Figure(
            start=min(note.onset for note in group),
            end=max(note.end for note in group),
            chords=frozenset(plan.at(note.harmony_tick) for note in group),
        )
        for group in by_bar.values()
    )


def degree_tone(chord: Chord, name: str) -> Tone:
    """The note that a riff degree means over a chord.

    A chord tone or tension of that name; for a plain number that it lacks, the note of its scale on that
    letter; else the degree as written, against the major scale of the root.
    """
    found = chord.tone(name)
    if found is not None:
        return found.tone
    number = int(name.lstrip("b#"))
    written = chord.root.up(number, name.count("#") - name.count("b"))
    if name.isdigit():
        return next((tone for tone in chord.scale if tone.letter == written.letter), written)
    return written


def _riff_bars(plan: Plan) -> list[int]:
    """Bars of the plan, from 0, in which the riff plays: those named, or every one but the last."""
    wanted = plan.intro.melody.bars
    if not wanted:
        return list(range(max(1, plan.bars - 1)))
    return [bar for bar in range(plan.bars) if int(bar / plan.scale) + 1 in wanted]


def _riff_pitch(chord: Chord, written: RiffNote, riff: Sequence[RiffNote]) -> int:
    return _riff_root(riff, chord) + _degree_offset(chord, written.degree)


def _riff_root(riff: Sequence[RiffNote], chord: Chord) -> int:
    """Pitch of the chord's root that puts the riff inside the register, as near its middle as can be."""
    offsets = [_degree_offset(chord, written.degree) for written in riff]
    roots = [chord.root.pitch_class + 12 * octave for octave in range(3, 8)]
    middle = (min(offsets) + max(offsets)) / 2

    def outside(root: int) -> int:
        return max(0, LOWEST - root - min(offsets)) + max(0, root + max(offsets) - HIGHEST)

    return min(roots, key=lambda root: (outside(root), abs(root + middle - _CENTRE)))


def _degree_offset(chord: Chord, degree: str) -> int:
    """Semitones over the root of a riff degree such as `3`, `b9`, `5+`; a plain one as the chord has it."""
    name, octaves = degree.rstrip("+"), degree.count("+")
    number = int(name.lstrip("b#"))
    offset = (degree_tone(chord, name).pitch_class - chord.root.pitch_class) % 12
    return offset + 12 * octaves + (12 if number > 7 else 0)
