"""What the comp finds: the chords, the melody and the ways out, bar by bar on the grid of eighths."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from introit.arrange.comping.bar import Shape
from introit.arrange.comping.figure import EIGHTH
from introit.arrange.plan import PlannedChord
from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote
from introit.units import TICKS_PER_QUARTER

REST = TICKS_PER_QUARTER
"""A rest of a beat in a motif is a gap in which the comp may answer."""


class Motif(NamedTuple):
    """The motif, as far as the comp must keep out of its way.

    Attributes:
        spans: (start, end) ticks of its runs of notes, in order.
        stated: onsets of the chords that it states.
    """

    spans: tuple[tuple[int, int], ...] = ()
    stated: frozenset[int] = frozenset()

    def next_start(self, tick: int) -> int | None:
        """The first start of a run after a tick; None when no more comes."""
        index = bisect_right(self.spans, tick, key=_start)
        return self.spans[index][0] if index < len(self.spans) else None


def motif_of(scene: Scene, melody: Sequence[ScoreNote], *, over_held: bool = False) -> Motif:
    """The motif of a scene; an empty one where its melody is none.

    Args:
        scene: where.
        melody: of the whole intro.
        over_held: True where the comp holds its chords under the motif, as in a ballad.
    """
    if over_held or not (scene.plan.intro.melody.has_motif and melody):
        return Motif()
    spans: list[list[int]] = []
    for note in sorted(melody):
        if spans and note.onset - spans[-1][1] < REST:
            spans[-1][1] = max(spans[-1][1], note.end)
        else:
            spans.append([note.onset, note.end])
    *others, _ = scene.plan.chords  # the last one leads home: the comp has it, too
    stated = (chord.onset for chord in others if _is_stated(chord, melody))
    return Motif(tuple((start, end) for start, end in spans), frozenset(stated))


def _is_stated(planned: PlannedChord, melody: Sequence[ScoreNote]) -> bool:
    """Whether the motif tells a chord: by two of its tones at least, a guide tone among them."""
    classes = {note.pitch % 12 for note in melody if note.harmony_tick == planned.onset}
    chord = planned.chord
    fifth = chord.tone("5")
    tones = (*chord.required, fifth) if fifth else chord.required
    own = classes & {tone.pitch_class for tone in tones}
    return len(own) > 1 and not own.isdisjoint(tone.pitch_class for tone in chord.guide_tones)


def shapes(
    scene: Scene, melody: Sequence[ScoreNote], motif: Motif, *, struck: Sequence[bool], may_push: bool
) -> list[Shape]:
    """The shape of each bar.

    Args:
        scene: where.
        melody: of the whole intro.
        motif: of the melody.
        struck: for each bar, whether the comp plays there.
        may_push: whether chords are pushed at all.
    """
    plan = scene.plan
    slots, quiet, late = plan.meter.beats * 2, plan.pickup_tick, plan.late_tick
    starts = [chord.onset // EIGHTH for chord in plan.chords]
    needed = {
        chord.onset // EIGHTH
        for chord in plan.chords
        if (chord.onset < quiet or chord.onset == late) and chord.onset not in motif.stated
    }
    last, setup = plan.bars - 1, quiet == plan.head_tick
    sounding = _mask((note.onset, note.end) for note in melody)
    onsets = sum(1 << slot for slot in {note.onset // EIGHTH for note in melody if not note.onset % EIGHTH})
    open_to = sum(1 << slot for slot in needed)
    pickup = _mask([(quiet, plan.head_tick)]) & ~(0 if late is None else 1 << late // EIGHTH)
    closed = _mask(motif.spans) & ~open_to | pickup
    full, free = (1 << slots) - 1, ~closed if may_push else 0
    found = []
    for bar in range(plan.bars):
        first = bar * slots
        mine = starts[bisect_left(starts, first) : bisect_left(starts, first + slots)]
        pushed = bar > 0 and struck[bar - 1] and mine[:1] == [first]
        found.append(
            Shape(
                slots=slots,
                chords=tuple(start - first for start in mine),
                needed=tuple(start - first for start in mine if start in needed),
                change_after=bar < last and struck[bar + 1] and may_push and first + slots in starts,
                change_before=bool(pushed and free >> first - 1 & 1),
                sounding=sounding >> first & full,
                onsets=onsets >> first & full,
                closed=closed >> first & full | (setup and bar == last) << slots - 1,
                setup=(slots - 3, slots - 2) if setup and bar == last else (),
                may_push=may_push,
                one_pair_of_hands=scene.seats.one_pair_of_hands,
            )
        )
    return found


def _mask(spans: Iterable[tuple[int, int]]) -> int:
    """A bit for each eighth on whose first tick one of the spans sounds."""
    mask = 0
    for start, end in spans:
        first, after = -(-start // EIGHTH), -(-end // EIGHTH)
        mask |= (1 << after) - (1 << first) if after > first else 0
    return mask


def _start(span: tuple[int, int]) -> int:
    return span[0]
