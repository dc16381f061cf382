"""The line before its pitches: when each note sounds, over which chord, and what it must do there."""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum
from typing import NamedTuple

from introit.arrange.melody.ending import CLEAR, Goal, goal_of, melody_limit
from introit.arrange.melody.phrases import HALF_BEAT, STRONG_BEATS, chosen_phrases
from introit.arrange.plan import LEAD_IN, Plan
from introit.arrange.scene import Scene
from introit.arrange.textures import TEXTURES
from introit.arrange.textures.room import BREATH
from introit.units import TICKS_PER_QUARTER


class Duty(IntEnum):
    """What a note must do."""

    HELD = 0
    """Long, or on a strong beat: a chord tone or a tension."""
    LIGHT = 1
    """Short, and going on to the next: any tone of the scale."""
    APPROACH = 2
    """Short, and a step from the next, which it leads to."""
    LEADING = 3
    """The last: a step from the tune's first note."""


class Slot(NamedTuple):
    """One note of the line without its pitch.

    Attributes:
        onset, length: ticks.
        chord: index of the chord that it belongs to, the coming one's where it anticipates.
        duty: what it must do.
        after_rest: whether half a beat or more is silent before it.
        clear: whether it must leave the tune's first note alone.
    """

    onset: int
    length: int
    chord: int
    duty: Duty
    after_rest: bool
    clear: bool

    @property
    def end(self) -> int:
        """Tick at which it ends."""
        return self.onset + self.length


class Span(NamedTuple):
    """When a note sounds, in ticks, and whether it leads by step into the next."""

    onset: int
    end: int
    approach: bool


MOST_SOUND = 0.65
"""The part of the time that a melody sounds, at most. Common practice, no source."""
_LEAD_IN = ((LEAD_IN, 2 * HALF_BEAT, True), (2 * HALF_BEAT, 0, False))
_SHORT_LEAD_IN = ((2 * HALF_BEAT, HALF_BEAT, True), (HALF_BEAT, 0, False))
"""The two notes before the tune's first one: ticks before it of onset and end; the last goes over into it.

The short ones are for a tune that enters a beat after a strong one: there a chord tone is best, and the step
into the tune comes after it."""


def line_slots(scene: Scene) -> list[Slot]:
    """The line's notes before their pitches, in order.

    Where a texture sings for itself there are none, but for those that lead to the tune's first note.
    """
    plan = scene.plan
    spans = _not_in_singing(scene, _spans(plan, melody_limit(plan)))
    goal = goal_of(plan)
    if goal is not None:
        spans = _airy([*_ending_by(spans, goal.tick - BREATH), *_lead_in(plan, goal, 0)], plan.head_tick)
    return _slots(plan, _without_loose_ends(spans), goal)


def lead_in_slots(scene: Scene, free_from: int) -> list[Slot]:
    """Only the notes that lead to the tune's first one, where it is named and they begin late enough."""
    goal = goal_of(scene.plan)
    if goal is None:
        return []
    return _slots(scene.plan, _lead_in(scene.plan, goal, free_from), goal)


def chord_under(plan: Plan, onset: int, end: int) -> int:
    """Index of the chord that a note belongs to: the coming one's where it anticipates it."""
    chord = plan.at(onset)
    change = plan.chords[chord].end
    early = change - onset <= HALF_BEAT and end > change and chord + 1 < len(plan.chords)
    return chord + early


def sounds_on_strong_beat(plan: Plan, onset: int, end: int) -> bool:
    """Whether a note sounds on a strong beat: begins there, or is held into it."""
    return any(
        onset <= bar + beat * TICKS_PER_QUARTER < end
        for bar in range(onset // plan.bar_ticks * plan.bar_ticks, end, plan.bar_ticks)
        for beat in STRONG_BEATS[plan.meter.beats]
    )


def _spans(plan: Plan, limit: int) -> list[Span]:
    spans = [
        Span(start + note.onset, start + note.onset + note.length, note.approach)
        for start, phrase in chosen_phrases(plan)
        for note in phrase.notes
    ]
    return _ending_by(spans, limit)


def _ending_by(spans: Iterable[Span], limit: int) -> list[Span]:
    """Spans cut at a tick; what is left of none is shorter than half a beat."""
    return [span._replace(end=min(span.end, limit)) for span in spans if span.onset + HALF_BEAT <= limit]


def _lead_in(plan: Plan, goal: Goal, free_from: int) -> list[Span]:
    last = goal.tick - 2 * HALF_BEAT
    times = _SHORT_LEAD_IN if sounds_on_strong_beat(plan, last, last + 1) else _LEAD_IN
    spans = [Span(goal.tick - on, goal.tick - off, step) for on, off, step in times]
    return [span for span in spans if span.onset >= free_from]


def _airy(spans: list[Span], length: int) -> list[Span]:
    """Spans, the longest shortened until all sound for no more than their share of a length."""
    spans = list(spans)
    while sum(span.end - span.onset for span in spans) > MOST_SOUND * length:
        longest = max(range(len(spans)), key=lambda index: (spans[index].end - spans[index].onset, -index))
        if spans[longest].end - spans[longest].onset <= HALF_BEAT:
            break
        spans[longest] = spans[longest]._replace(end=spans[longest].end - HALF_BEAT)
    return spans


def _not_in_singing(scene: Scene, spans: Iterable[Span]) -> list[Span]:
    """Spans outside the textures that sing for themselves."""
    return [span for span in spans if not TEXTURES[scene.passage_at(span.onset).texture].sings]


def _without_loose_ends(spans: list[Span]) -> list[Span]:
    """Spans without approach notes that nothing follows at once."""
    kept: list[Span] = []
    for span in reversed(spans):
        if not span.approach or (kept and kept[-1].onset == span.end):
            kept.append(span)
    return kept[::-1]


def _slots(plan: Plan, spans: list[Span], goal: Goal | None) -> list[Slot]:
    slots: list[Slot] = []
    for index, span in enumerate(spans):
        following = spans[index + 1].onset if index + 1 < len(spans) else None
        leading = goal is not None and span.end == goal.tick
        slots.append(
            Slot(
                onset=span.onset,
                length=span.end - span.onset,
                chord=chord_under(plan, span.onset, span.end),
                duty=Duty.LEADING if leading else _duty(plan, span, following),
                after_rest=not slots or span.onset - slots[-1].end >= HALF_BEAT,
                clear=goal is not None and span.end > goal.tick - CLEAR,
            )
        )
    return slots


def _duty(plan: Plan, span: Span, following: int | None) -> Duty:
    if following != span.end or sounds_on_strong_beat(plan, span.onset, span.end):
        return Duty.HELD
    if span.approach:
        return Duty.APPROACH
    return Duty.LIGHT if span.end - span.onset <= HALF_BEAT else Duty.HELD
