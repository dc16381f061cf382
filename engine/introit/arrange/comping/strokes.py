"""The comping hits: a rhythm laid over each passage, each hit with the unit whose voicing it sounds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote
from introit.library.model import CompingRhythm
from introit.units import TICKS_PER_QUARTER, ticks

PUSH_REACH = TICKS_PER_QUARTER
"""A push anticipates a chord that comes within a beat; further off there is nothing to anticipate."""
STATED_LENGTH = 2 * TICKS_PER_QUARTER
"""How long a chord sounds that the rhythm would have passed over, at most."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One comping hit on the plan.

    Attributes:
        onset, end: ticks.
        unit: index of the scene's unit whose voicing it sounds; the coming one's for a push.
        accent: True when it is played harder.
    """

    onset: int
    end: int
    unit: int
    accent: bool


@dataclass(frozen=True, slots=True)
class Figure:
    """A stretch that belongs to the melody's riff; the comp answers after it.

    Attributes:
        start, end: ticks.
        chords: indices of the chords that the riff itself states.
    """

    start: int
    end: int
    chords: frozenset[int]


def comp_strokes(
    scene: Scene, rhythms: Sequence[CompingRhythm], *, melody: Sequence[ScoreNote] = ()
) -> tuple[Stroke, ...]:
    """The comping hits, in order, none overlapping the next, each chord stated at least once.

    Args:
        scene: where.
        rhythms: one for each passage; its bars are repeated.
        melody: of the whole intro; a motif states its own chords, and the comp answers in its gaps.
    """
    figures = _figures(scene, melody) if scene.plan.intro.melody.style == "riff" else ()
    hits = [
        hit for hit in _hits(scene, rhythms) if not any(fig.start <= hit.onset < fig.end for fig in figures)
    ]
    if figures:
        hits = [replace(hit, accent=True) for hit in hits]
    stated = {scene.units[hit.unit].chord for hit in hits}.union(*(figure.chords for figure in figures))
    missing = [_statement(scene, index) for index in range(len(scene.plan.chords)) if index not in stated]
    return _without_overlap(scene, sorted([*hits, *missing], key=lambda hit: hit.onset))


def _figures(scene: Scene, melody: Sequence[ScoreNote]) -> tuple[Figure, ...]:
    """For each bar with melody: from its first onset to its last end, and the chords that it states."""
    by_bar: dict[int, list[ScoreNote]] = {}
    for note in melody:
        by_bar.setdefault(note.onset // scene.plan.bar_ticks, []).append(note)
    return tuple(
        Figure(
            start=min(note.onset for note in group),
            end=max(note.end for note in group),
            chords=frozenset(scene.plan.at(note.harmony_tick) for note in group),
        )
        for group in by_bar.values()
    )


def _hits(scene: Scene, rhythms: Sequence[CompingRhythm]) -> list[Stroke]:
    plan, strokes = scene.plan, []
    for bar in range(plan.bars):
        rhythm = rhythms[scene.units[scene.unit_at(bar * plan.bar_ticks)].passage]
        for hit in rhythm.bars[bar % len(rhythm.bars)]:
            onset = bar * plan.bar_ticks + ticks(hit.position)
            unit = scene.unit_at(onset)
            if hit.push and scene.units[unit].end - onset <= PUSH_REACH:
                unit += 1
            # A push into the head would sound the head's own chord before its time.
            if unit < len(scene.units):
                strokes.append(Stroke(onset, onset + ticks(hit.length), unit, hit.accent))
    return strokes


def _statement(scene: Scene, index: int) -> Stroke:
    chord = scene.plan.chords[index]
    unit = scene.unit_at(chord.onset)
    return Stroke(chord.onset, min(chord.end, chord.onset + STATED_LENGTH), unit, accent=False)


def _without_overlap(scene: Scene, strokes: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """Each stroke ended at the next one's onset and at its own chord's end, whichever comes first."""
    next_onsets = [*(stroke.onset for stroke in strokes[1:]), scene.plan.head_tick][: len(strokes)]
    return tuple(
        replace(stroke, end=min(stroke.end, following, scene.chord_of(stroke.unit).end))
        for stroke, following in zip(strokes, next_onsets, strict=True)
    )
