"""The melody: a plain leading line over the comp, or a riff that follows the chords."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from introit.arrange.comp import Figure
from introit.arrange.plan import Plan
from introit.arrange.score import MELODY, ScoreNote
from introit.arrange.voicing.candidates import Grip
from introit.library.model import RiffNote
from introit.theory.chord import Chord
from introit.theory.pitch import Tone
from introit.units import TICKS_PER_QUARTER, ticks

LOWEST, HIGHEST = 64, 81
"""E4 to A5."""

# Two-bar phrases by meter: (beat from the phrase's start, most beats it sounds). Entered off the downbeat,
# with air after the last note; no chord gets more than one note. Judgement, no source.
_HALF = Fraction(1, 2)
_PHRASES: dict[int, tuple[tuple[tuple[Fraction, Fraction], ...], ...]] = {
    4: (
        (
            (Fraction(1), Fraction(1)),
            (Fraction(2), Fraction(2)),
            (4 + _HALF, 1 + _HALF),
            (Fraction(6), Fraction(1)),
        ),
        (
            (_HALF, 1 + _HALF),
            (Fraction(2), Fraction(1)),
            (Fraction(4), Fraction(2)),
            (6 + _HALF, Fraction(1, 2)),
        ),
    ),
    3: (
        ((Fraction(1), Fraction(1)), (Fraction(2), Fraction(1)), (3 + _HALF, 1 + _HALF)),
        ((_HALF, 1 + _HALF), (Fraction(2), Fraction(1)), (Fraction(3), Fraction(2))),
    ),
    5: (
        (
            (Fraction(1), Fraction(2)),
            (Fraction(3), Fraction(2)),
            (5 + _HALF, 1 + _HALF),
            (Fraction(8), Fraction(1)),
        ),
        (
            (_HALF, 1 + _HALF),
            (Fraction(3), Fraction(2)),
            (Fraction(5), Fraction(2)),
            (8 + _HALF, Fraction(1, 2)),
        ),
    ),
}

# Weights of the leading line. Judgement, no source.
_TONE_PRICE = {1: 2.0, 3: 0.0, 5: 1.0, 7: 0.0, 9: 0.0, 13: 0.1, 6: 0.2, 11: 0.4, 4: 0.4}
_DOUBLES_TOP = 2.0
_CLOSE_TO_COMP = 1.2
_CENTRE = 72


class _Entry(NamedTuple):
    onset: int
    longest: int
    chord: int


def melody_limit(plan: Plan) -> int:
    """Tick by which the melody is out: beat 3 of the last bar (4 in 5/4), and before the tune's pickup."""
    beats = 3 if plan.meter.beats == 5 else 2
    last_bar = plan.head_tick - plan.bar_ticks
    return min(last_bar + beats * TICKS_PER_QUARTER, plan.head_tick - ticks(plan.tune.pickup))


def line_notes(plan: Plan, voicings: Sequence[Grip]) -> list[ScoreNote]:
    """A leading note for most chords: guide tones and tensions, by step where it can, over the comp."""
    entries = _entries(plan)
    choices = [_choices(plan.chords[entry.chord].chord, voicings[entry.chord]) for entry in entries]
    pitches = _smoothest(choices)
    ends = [*(entry.onset for entry in entries[1:]), melody_limit(plan)]
    return [
        ScoreNote(
            onset=entry.onset,
            length=min(entry.longest, end - entry.onset, plan.chords[entry.chord].end - entry.onset),
            harmony_tick=plan.chords[entry.chord].onset,
            part=MELODY,
            pitch=pitch,
        )
        for entry, end, pitch in zip(entries, ends, pitches, strict=True)
    ]


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


def _entries(plan: Plan) -> list[_Entry]:
    phrases = _PHRASES[plan.meter.beats]
    limit = melody_limit(plan)
    entries: dict[int, _Entry] = {}
    for number, start in enumerate(range(0, plan.head_tick, 2 * plan.bar_ticks)):
        for position, longest in phrases[number % len(phrases)]:
            onset = start + ticks(position)
            if onset + TICKS_PER_QUARTER // 2 > limit:
                break
            chord = plan.at(onset)
            entries.setdefault(chord, _Entry(onset, ticks(longest), chord))
    return list(entries.values())


def _choices(chord: Chord, grip: Grip) -> list[tuple[int, float]]:
    """(pitch, price) of every chord tone in range over the comp's top voice."""
    choices: list[tuple[int, float]] = []
    named = {tone.tone.pitch_class for tone in chord.required}
    for tone in (*chord.required, *chord.optional):
        price = _TONE_PRICE.get(tone.degree, 1.0) + (0.0 if tone.tone.pitch_class in named else 0.3)
        for pitch in range(LOWEST, HIGHEST + 1):
            if pitch % 12 == tone.tone.pitch_class and pitch > grip[-1] + 1 and _clear_of(pitch, grip):
                choices.append((pitch, price + _place_price(pitch, grip)))
    return choices or [(grip[-1] + 12, 0.0)]


def _clear_of(pitch: int, grip: Grip) -> bool:
    return all(pitch - voice not in (1, 13, 25) for voice in grip)


def _place_price(pitch: int, grip: Grip) -> float:
    price = 0.08 * abs(pitch - _CENTRE)
    if pitch - grip[-1] < 3:
        price += _CLOSE_TO_COMP
    return price + (_DOUBLES_TOP if pitch % 12 == grip[-1] % 12 else 0.0)


def _smoothest(choices: Sequence[list[tuple[int, float]]]) -> list[int]:
    """The cheapest line: steps free, a repeat or a third cheap, leaps dear."""
    if not choices:
        return []
    totals: list[dict[int, tuple[float, int]]] = [{pitch: (price, -1) for pitch, price in choices[0]}]
    for options in choices[1:]:
        before = totals[-1]
        totals.append(
            {
                pitch: min(
                    (cost + _leap_price(pitch - last) + price, last) for last, (cost, _) in before.items()
                )
                for pitch, price in options
            }
        )
    pitch = min(totals[-1], key=lambda last: (totals[-1][last][0], last))
    line = [pitch]
    for column in reversed(totals[1:]):
        pitch = column[pitch][1]
        line.append(pitch)
    return line[::-1]


def _leap_price(interval: int) -> float:
    size = abs(interval)
    if size == 0:
        return 0.7
    return 0.0 if size <= 2 else 0.4 * (size - 2) + (2.0 if size > 5 else 0.0)


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


def degree_tone(chord: Chord, name: str) -> Tone:
    """The note that a riff degree means over a chord.

    A chord tone or tension of that name; for a plain number that it lacks, the note of its scale on that letter;
    else the degree as written, against the major scale of the root.
    """
    found = chord.tone(name)
    if found is not None:
        return found.tone
    number = int(name.lstrip("b#"))
    written = chord.root.up(number, name.count("#") - name.count("b"))
    if name.isdigit():
        return next((tone for tone in chord.scale if tone.letter == written.letter), written)
    return written
