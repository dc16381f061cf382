"""Where the bass plays, and what it is asked to play there: a manner laid over the plan."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from random import Random

from introit.arrange.bass.answering import answered
from introit.arrange.bass.station import Station
from introit.arrange.plan import Plan
from introit.arrange.scene import Passage, Scene
from introit.arrange.score import COMP, ScoreNote
from introit.library.model import BassManner
from introit.units import TICKS_PER_QUARTER, ticks

_HOW_OFTEN = 0.4
"""How often a note is played that is played now and then."""


def stations(scene: Scene, manners: Sequence[BassManner | None], above: Sequence[ScoreNote]) -> list[Station]:
    """Every note that the manners write, none overlapping; an answering one goes by the comp's hits."""
    rolls = scene.dice("bass", "rhythm")
    hits = sorted({note.onset for note in above if note.part == COMP})
    found: list[Station] = []
    for passage, manner in zip(scene.passages, manners, strict=True):
        if manner is not None:
            written = list(_in_passage(scene.plan, passage, manner, rolls))
            found += answered(scene.plan, written, hits, rolls) if manner.answering else written
    return found


def changes(plan: Plan, chord: int) -> bool:
    """Whether a chord differs from the one before it."""
    return chord == 0 or plan.chords[chord].chord != plan.chords[chord - 1].chord


def _in_passage(plan: Plan, passage: Passage, manner: BassManner, rolls: Random) -> Iterator[Station]:
    """The manner in every bar of a passage, and a root where a chord begins that nothing has taken early."""
    strict = manner.walks or manner.answering
    written: dict[int, Station] = {}
    for onset, end, tone, push in _written(plan, passage, manner, rolls):
        chord = plan.at(onset)
        coming = _coming(plan, onset, end) if push else None
        if push and coming is None and end > plan.head_tick:
            tone = "approach"
        written[onset] = Station(onset, end, tone, chord if coming is None else coming, strict)
    _take_changes(plan, passage, manner, written)
    onsets = sorted(written)
    for onset, following in zip(onsets, [*onsets[1:], passage.end], strict=True):
        one = written[onset]
        yield one._replace(end=min(one.end, following))


def _written(
    plan: Plan, passage: Passage, manner: BassManner, rolls: Random
) -> Iterator[tuple[int, int, str, bool]]:
    """(onset, end, tone, push) of every step of the manner, repeated through the passage."""
    steps = [(ticks(step.position), ticks(step.length), step) for step in manner.steps]
    for start in range(passage.start, passage.end, manner.bars * plan.bar_ticks):
        for position, length, step in steps:
            if start + position < passage.end and not (step.sometimes and rolls.random() > _HOW_OFTEN):
                yield start + position, start + position + length, step.tone, step.push


def _coming(plan: Plan, onset: int, end: int) -> int | None:
    """The chord that a pushed note takes early: the next one, if it begins while the note sounds."""
    chord = plan.at(onset) + 1
    begins = chord < len(plan.chords) and onset < plan.chords[chord].onset < end
    return chord if begins else None


def _take_changes(plan: Plan, passage: Passage, manner: BassManner, written: dict[int, Station]) -> None:
    """Puts a root where a chord begins; in a manner that pushes, the note just before it takes it early."""
    strict = manner.walks or manner.answering
    pushes = any(step.push for step in manner.steps)
    length = ticks(manner.steps[-1].length) if manner.answering else plan.head_tick
    for index, planned in enumerate(plan.chords):
        onset = planned.onset
        if not passage.start <= onset < passage.end:
            continue
        taken = any(one.chord == index and one.onset < onset < one.end for one in written.values())
        before = max((at for at in written if onset - TICKS_PER_QUARTER < at < onset), default=None)
        new = changes(plan, index) or onset == passage.start
        if onset in written:
            if new:
                written[onset] = written[onset]._replace(tone="root")
        elif taken:
            continue
        elif pushes and before is not None and new:
            written[before] = written[before]._replace(tone="root", chord=index, end=planned.end)
        elif new:
            written[onset] = Station(onset, min(planned.end, onset + length), "root", index, strict)
    if strict:
        for onset, one in written.items():
            planned = plan.chords[one.chord]
            begins = onset == planned.onset and (changes(plan, one.chord) or onset == passage.start)
            if one.tone == "root" and not begins:
                written[onset] = one._replace(tone="lasting")
