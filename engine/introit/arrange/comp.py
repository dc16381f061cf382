"""The comping: a rhythm laid over the plan, each hit a voicing of the chord it belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from introit.arrange.plan import Plan
from introit.arrange.score import COMP, ScoreNote
from introit.arrange.voicing.candidates import Grip
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
        chord: index of the plan's chord that it sounds.
        accent: True when it is played harder.
    """

    onset: int
    end: int
    chord: int
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


def comp_strokes(plan: Plan, rhythm: CompingRhythm, *, figures: Sequence[Figure] = ()) -> tuple[Stroke, ...]:
    """The comping hits, in order, none overlapping the next, each chord stated at least once.

    Args:
        plan: the chords.
        rhythm: its bars are repeated.
        figures: where the riff plays; there the comp is silent, and between them its hits are accents.
    """
    hits = [
        hit for hit in _hits(plan, rhythm) if not any(fig.start <= hit.onset < fig.end for fig in figures)
    ]
    if figures:
        hits = [replace(hit, accent=True) for hit in hits]
    stated = {hit.chord for hit in hits}.union(*(figure.chords for figure in figures))
    missing = [_statement(plan, index) for index in range(len(plan.chords)) if index not in stated]
    return _without_overlap(plan, sorted([*hits, *missing], key=lambda hit: hit.onset))


def comp_notes(plan: Plan, strokes: Sequence[Stroke], voicings: Sequence[Grip]) -> list[ScoreNote]:
    """The notes of the strokes, each with the chord's own voicing."""
    return [
        ScoreNote(
            onset=stroke.onset,
            length=stroke.end - stroke.onset,
            harmony_tick=plan.chords[stroke.chord].onset,
            part=COMP,
            pitch=pitch,
            accent=stroke.accent,
        )
        for stroke in strokes
        for pitch in voicings[stroke.chord]
    ]


def _hits(plan: Plan, rhythm: CompingRhythm) -> list[Stroke]:
    strokes: list[Stroke] = []
    for bar in range(plan.bars):
        for hit in rhythm.bars[bar % len(rhythm.bars)]:
            onset = bar * plan.bar_ticks + ticks(hit.position)
            chord = plan.at(onset)
            if hit.push and plan.chords[chord].end - onset <= PUSH_REACH:
                chord += 1
            # A push into the head would sound the head's own chord before its time.
            if chord < len(plan.chords):
                strokes.append(Stroke(onset, onset + ticks(hit.length), chord, hit.accent))
    return strokes


def _statement(plan: Plan, index: int) -> Stroke:
    chord = plan.chords[index]
    return Stroke(chord.onset, min(chord.end, chord.onset + STATED_LENGTH), index, accent=False)


def _without_overlap(plan: Plan, strokes: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """Each stroke ended at the next one's onset and at its own chord's end, whichever comes first."""
    next_onsets = [*(stroke.onset for stroke in strokes[1:]), plan.head_tick][: len(strokes)]
    return tuple(
        replace(stroke, end=min(stroke.end, following, plan.chords[stroke.chord].end))
        for stroke, following in zip(strokes, next_onsets, strict=True)
    )
