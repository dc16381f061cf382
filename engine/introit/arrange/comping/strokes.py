"""The comping hits: phrases made of each passage's rhythm, each hit with the unit whose voicing it sounds."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from introit.arrange.comping.figure import EIGHTH, SHORT, Cell, vocabulary_of
from introit.arrange.comping.ground import Motif, motif_of, shapes
from introit.arrange.comping.phrase import VARIANTS, comped
from introit.arrange.comping.release import Hit, lengths
from introit.arrange.comping.table import PHRASE, Task
from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote
from introit.library.model import CompingRhythm

PUSHES = (0.25, 0.4)
"""Least and most of the changes that are pushed in swing, as shares. Common practice, no source."""
_PUSHES_ELSEWHERE = {"ballad": (0.0, 0.0)} | dict.fromkeys(("bossa", "latin", "straight-eighths"), (0.0, 0.4))
"""A ballad's chords come where they are written; even eighths push where their patterns do."""


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


def pushes_of(feel: str) -> tuple[float, float]:
    """Least and most of the changes that are pushed in a feel, by its id."""
    return _PUSHES_ELSEWHERE.get(feel, PUSHES)


def comp_strokes(
    scene: Scene,
    rhythms: Sequence[Sequence[CompingRhythm]],
    *,
    melody: Sequence[ScoreNote] = (),
    pushes: tuple[float, float] = PUSHES,
) -> tuple[Stroke, ...]:
    """The comping hits, in order, none overlapping the next, each chord stated by them or by the motif.

    A steady rhythm is repeated as it is written; any other is a vocabulary, from which phrases of four bars
    are made. Nothing is struck in the tune's pickup; where there is none, a hit sets up the head.

    Args:
        scene: where.
        rhythms: for each passage its own rhythm, then others that may stand in from its second phrase on; no
            rhythm at all for a passage in which the comp has nothing to strike.
        melody: of the whole intro; a motif states its own chords, and the comp answers in its gaps.
        pushes: least and most of the changes that are pushed, as shares from 0 to 1.
    """
    motif = motif_of(scene, melody, over_held=pushes[1] == 0)
    tasks = _tasks(scene, rhythms, melody, motif=motif, may_push=pushes[1] > 0)
    variant = scene.dice("comping").randrange(VARIANTS)
    bars = comped(tasks, pushes=pushes, variant=variant)
    left = [note.onset for note in melody] if scene.seats.one_pair_of_hands else []
    return _sounded(scene, tasks, bars, motif, rings=pushes[1] == 0, left=sorted(left))


def _tasks(
    scene: Scene,
    rhythms: Sequence[Sequence[CompingRhythm]],
    melody: Sequence[ScoreNote],
    *,
    motif: Motif,
    may_push: bool,
) -> tuple[Task, ...]:
    plan = scene.plan
    numbers: list[tuple[int, int]] = []  # (passage, bars from its beginning)
    for index, passage in enumerate(scene.passages):
        numbers += [(index, bar) for bar in range((passage.end - passage.start) // plan.bar_ticks)]
    struck = [bool(rhythms[index]) for index, _ in numbers]
    found = shapes(scene, melody, motif, struck=struck, may_push=may_push)
    tasks = []
    for shape, (index, bar) in zip(found, numbers, strict=True):
        rhythm = _rhythm(scene, rhythms[index], index, bar)
        begun = scene.side if rhythm and rhythm.steady else 0  # a phrase begins with its first bar
        tasks.append(Task(shape, vocabulary_of(rhythm) if rhythm else None, bar + begun))
    return tuple(tasks)


def _rhythm(scene: Scene, rhythms: Sequence[CompingRhythm], passage: int, bar: int) -> CompingRhythm | None:
    """The rhythm of a bar of a passage: its own; from the second phrase on the dice may take another one."""
    if not rhythms:
        return None
    home, *others = rhythms
    if home.steady or not others or bar < PHRASE:
        return home
    varied = [home, *(rhythm for rhythm in others if not rhythm.steady)]
    return scene.dice("comping", "rhythm", passage, bar // PHRASE).choice(varied)


def _sounded(
    scene: Scene,
    tasks: Sequence[Task],
    bars: Sequence[Sequence[Cell]],
    motif: Motif,
    *,
    rings: bool,
    left: Sequence[int],
) -> tuple[Stroke, ...]:
    """The cells as strokes, each with the unit that it sounds and a length that has room.

    At the ticks of `left`, in order, the hand may have to leave the grip.
    """
    plan = scene.plan
    cells = [
        (bar * plan.bar_ticks + cell.slot * EIGHTH, cell, bool(task.vocabulary and task.vocabulary.steady))
        for bar, (task, found) in enumerate(zip(tasks, bars, strict=True))
        for cell in found
    ]
    units = [scene.unit_at(onset) + cell.push for onset, cell, _ in cells]
    nexts = [*(onset for onset, _, _ in cells[1:]), plan.head_tick][: len(cells)]
    setup = tasks[-1].shape.setup
    last = plan.head_tick - plan.bar_ticks + setup[0] * EIGHTH if setup else plan.head_tick
    hits = []
    for (onset, cell, steady), unit, after in zip(cells, units, nexts, strict=True):
        end = min(after, _end(scene, unit, motif.next_start(onset)))
        sets_up = onset >= last and not rings  # short, then air before the head
        room = min(end - onset, SHORT) if sets_up else end - onset
        leaves = left[bisect_right(left, onset) :][:1]
        hits.append(Hit(onset, cell.length, room, min([room, *(tick - onset for tick in leaves)]), steady))
    found = lengths(hits, slots=plan.meter.beats * 2, rings=rings)
    return tuple(
        Stroke(hit.onset, hit.onset + length, unit, cell.accent or bool(motif.spans))
        for hit, length, unit, (_, cell, _) in zip(hits, found, units, cells, strict=True)
    )


def _end(scene: Scene, unit: int, motif: int | None) -> int:
    """Where a hit on a unit ends at the latest: with its chord or passage, or where pickup or motif begin."""
    passage = scene.passage_at(scene.units[unit].start)
    ends = [scene.chord_of(unit).end, passage.end, scene.plan.quiet_tick]
    return min(ends if motif is None else [*ends, motif])
