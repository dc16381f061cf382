"""The melody as a riff that follows the chords, and where it leaves room for the comp."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from introit.arrange.melody.line import HIGHEST, LOWEST, melody_limit
from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.arrange.score import MELODY, ScoreNote
from introit.theory.chord import Chord, ChordTone
from introit.theory.pitch import Tone
from introit.units import ticks

_CENTRE = 74
"""D5: the middle of the riff, over where the comp answers."""
_OUTSIDE, _OFF_CENTRE = 4.0, 0.25
"""Prices a semitone: out of the register, off its middle."""
_FREE_LEAP, _FAR_LEAP = 5, 8.0
"""Over a fourth, from one bar's first note to the next bar's, each semitone costs the second figure more."""

_NOT_AS_BEFORE = 12.0
"""Price of a bar that says the same as an earlier one in another octave: a riff is known by its return."""


class _Written(NamedTuple):
    onset: int
    end: int
    chord: int
    degree: str


def motif_notes(scene: Scene) -> list[ScoreNote]:
    """The riff in each of its bars, transposed by chord degree to the chord that sounds."""
    plan = scene.plan
    written = _written(plan)
    roots = _roots([_offsets(plan, group) for group in written])
    return [
        ScoreNote(
            onset=note.onset,
            length=note.end - note.onset,
            harmony_tick=plan.chords[note.chord].onset,
            part=MELODY,
            pitch=root + _degree_offset(plan.chords[note.chord].chord, note.degree),
            accent=not note.onset % plan.bar_ticks,
        )
        for group, root in zip(written, roots, strict=True)
        for note in group
    ]


def degree_tone(chord: Chord, name: str) -> Tone:
    """The note that a riff degree means over a chord.

    A chord tone or tension of that name; for the fifth of a chord that drops it, the tone that stands in for
    it: b13, or what lies nearest; for another plain number that it lacks, the note of its scale on that
    letter; else the degree as written, against the major scale of the root.
    """
    found = chord.tone(name) or (_in_place_of_fifth(chord) if name == "5" else None)
    if found is not None:
        return found.tone
    number = int(name.lstrip("b#"))
    written = chord.root.up(number, name.count("#") - name.count("b"))
    if name.isdigit():
        return next((tone for tone in chord.scale if tone.letter == written.letter), written)
    return written


def _in_place_of_fifth(chord: Chord) -> ChordTone | None:
    """The chord's own tone nearest to the fifth that it does without, the higher of two."""
    fifth = chord.root.up(5).pitch_class
    apart = {tone: (tone.pitch_class - fifth + 6) % 12 - 6 for tone in (*chord.required, *chord.optional)}
    return min(apart, key=lambda tone: (abs(apart[tone]), -apart[tone]), default=None)


def _riff_bars(plan: Plan) -> list[int]:
    """Bars of the plan, from 0, in which the riff plays: those named, or every one but the last."""
    wanted = plan.intro.melody.bars
    if not wanted:
        return list(range(max(1, plan.bars - 1)))
    return [bar for bar in range(plan.bars) if int(bar / plan.scale) + 1 in wanted]


def _written(plan: Plan) -> list[list[_Written]]:
    """The riff's notes on the plan, cut off at the melody's limit: a group for each bar and chord."""
    limit = melody_limit(plan)
    groups: dict[tuple[int, int], list[_Written]] = {}
    for bar in _riff_bars(plan):
        for note in plan.intro.melody.riff:
            onset = bar * plan.bar_ticks + ticks(note.position)
            end = min(onset + ticks(note.length), limit)
            if onset < end:
                chord = plan.at(onset)
                groups.setdefault((bar, chord), []).append(_Written(onset, end, chord, note.degree))
    return list(groups.values())


def _offsets(plan: Plan, group: Sequence[_Written]) -> tuple[int, list[int]]:
    """Pitch class of a group's root, and how many semitones each of its notes lies over that root."""
    chord = plan.chords[group[0].chord].chord
    return chord.root.pitch_class, [_degree_offset(chord, note.degree) for note in group]


def _roots(groups: Sequence[tuple[int, list[int]]]) -> list[int]:
    """Pitch of each group's root: inside the register, near to each other, then near its middle."""
    paths: list[tuple[float, list[int]]] = [(0.0, [])]
    for number, (pitch_class, _) in enumerate(groups):
        paths = [
            min(
                (cost + _price(root, number, path=path, groups=groups), [*path, root]) for cost, path in paths
            )
            for root in range(24 + pitch_class, 96, 12)
        ]
    return min(paths)[1]


def _price(root: int, number: int, *, path: Sequence[int], groups: Sequence[tuple[int, list[int]]]) -> float:
    """What it costs to put a group's root on a pitch after the roots so far."""
    offsets = groups[number][1]
    price = _place_price(root, offsets)
    if path:
        price += _leap_price(abs(root + offsets[0] - path[-1] - groups[number - 1][1][0]))
    earlier = [known for known, group in zip(path, groups, strict=False) if group == groups[number]]
    return price + _NOT_AS_BEFORE * (bool(earlier) and earlier[-1] != root)


def _leap_price(semitones: int) -> float:
    return semitones + _FAR_LEAP * max(0, semitones - _FREE_LEAP)


def _place_price(root: int, offsets: Sequence[int]) -> float:
    lowest, highest = root + min(offsets), root + max(offsets)
    outside = max(0, LOWEST - lowest) + max(0, highest - HIGHEST)
    return _OUTSIDE * outside + _OFF_CENTRE * abs((lowest + highest) / 2 - _CENTRE)


def _degree_offset(chord: Chord, degree: str) -> int:
    """Semitones over the root of a riff degree such as `3`, `b9`, `5+`; a plain one as the chord has it."""
    name, octaves = degree.rstrip("+"), degree.count("+")
    number = int(name.lstrip("b#"))
    offset = (degree_tone(chord, name).pitch_class - chord.root.pitch_class) % 12
    return offset + 12 * octaves + (12 if number > 7 else 0)
