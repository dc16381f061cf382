"""Where the bass plays, and what it is asked to play there: a manner laid over the plan."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from random import Random
from typing import NamedTuple

from introit.arrange.bass.answering import answered, listen
from introit.arrange.bass.station import AGAIN, Station
from introit.arrange.plan import Plan
from introit.arrange.scene import Passage, Scene
from introit.arrange.score import ScoreNote
from introit.library.model import BassManner
from introit.units import TICKS_PER_QUARTER, ticks

_HOW_OFTEN = 0.4
"""How often a note is played that is played now and then."""
_MOST_EARLY = TICKS_PER_QUARTER
"""Ticks by which a chord may be taken early at most."""


def stations(scene: Scene, manners: Sequence[BassManner | None], above: Sequence[ScoreNote]) -> list[Station]:
    """Every note that the manners write, none overlapping; an answering one goes by the comp's hits."""
    rolls = scene.dice("bass", "rhythm")
    heard = listen(above)
    found: list[Station] = []
    for passage, manner in zip(scene.passages, manners, strict=True):
        if manner is not None:
            ground = _Ground(scene.plan, passage, manner, above, manner.walks or manner.answering)
            written = list(_in_passage(ground, rolls))
            found += answered(scene.plan, written, heard, rolls) if manner.answering else written
    return found


def changes(plan: Plan, chord: int) -> bool:
    """Whether a chord differs from the one before it."""
    return chord == 0 or plan.chords[chord].chord != plan.chords[chord - 1].chord


class _Ground(NamedTuple):
    """What a manner is laid over; `strict` where the rules of a walking line hold."""

    plan: Plan
    passage: Passage
    manner: BassManner
    above: Sequence[ScoreNote]
    strict: bool


def _in_passage(ground: _Ground, rolls: Random) -> Iterator[Station]:
    """The manner in every bar of a passage, and a root where a chord begins that nothing has taken early."""
    plan, passage = ground.plan, ground.passage
    written: dict[int, Station] = {}
    for onset, end, tone, push in _written(plan, passage, ground.manner, rolls):
        one = Station(onset, end, tone, plan.at(onset), ground.strict)
        written[onset] = _pushed(ground, one) if push else one
    _take_changes(ground, written)
    onsets = sorted(written)
    for onset, following in zip(onsets, [*onsets[1:], passage.end], strict=True):
        one = written[onset]
        yield _again(plan, passage, one._replace(end=following) if one.end > following else one)


def _written(
    plan: Plan, passage: Passage, manner: BassManner, rolls: Random
) -> Iterator[tuple[int, int, str, bool]]:
    """(onset, end, tone, push) of every step of the manner, repeated through the passage."""
    steps = list(zip(_spans(manner), manner.steps, strict=True))
    for start in range(passage.start, passage.end, manner.bars * plan.bar_ticks):
        for (position, length), step in steps:
            if start + position < passage.end and not (step.sometimes and rolls.random() > _HOW_OFTEN):
                yield start + position, start + position + length, step.tone, step.push


@lru_cache(maxsize=256)
def _spans(manner: BassManner) -> list[tuple[int, int]]:
    """Position and length of each step in ticks."""
    return [(ticks(step.position), ticks(step.length)) for step in manner.steps]


def _pushed(ground: _Ground, one: Station) -> Station:
    """A note that takes the coming chord early, if one begins while it sounds and what is above allows it.

    The head's own chord is never taken: the last note leads there.
    """
    plan, chord = ground.plan, one.chord + 1
    if chord == len(plan.chords):
        return one._replace(tone="approach") if one.end > plan.head_tick else one
    change = plan.chords[chord].onset
    if change >= one.end:
        return one
    if change - one.onset <= _MOST_EARLY and _allows(ground, one.onset, chord):
        return one._replace(tone="root", chord=chord)
    return one._replace(tone="fifth", end=change)


def _allows(ground: _Ground, onset: int, chord: int) -> bool:
    """Whether nothing that sounds lies a half step, or its octaves, over a chord's bass note played early."""
    planned = ground.plan.chords[chord]
    rub = (planned.chord.bass.pitch_class + 1) % 12
    return not any(
        note.pitch % 12 == rub and note.onset < planned.onset and onset < note.end for note in ground.above
    )


def _take_changes(ground: _Ground, written: dict[int, Station]) -> None:
    """Puts a root where a chord begins; in a manner that pushes, the note just before it takes it early."""
    plan, passage, manner = ground.plan, ground.passage, ground.manner
    pushes = any(step.push for step in manner.steps)
    longest = ticks(manner.steps[-1].length) if manner.answering else plan.head_tick
    for index, planned in enumerate(plan.chords):
        onset = planned.onset
        new = changes(plan, index) or onset == passage.start
        if not (new and passage.start <= onset < passage.end):
            continue
        early = _just_before(written, onset) if pushes else None
        if onset in written:
            written[onset] = written[onset]._replace(tone="root")
        elif early is None or not _allows(ground, early, index):
            end = min(planned.end, onset + longest)
            written[onset] = Station(onset, end, "root", index, ground.strict)
        elif written[early].chord != index:
            written[early] = written[early]._replace(tone="root", chord=index, end=planned.end)


def _just_before(written: dict[int, Station], onset: int) -> int | None:
    """Onset of the last note that begins within a beat before a tick, or rings over it as a push."""
    near = (
        at
        for at, one in written.items()
        if at < onset and (onset - at < TICKS_PER_QUARTER or (one.tone == "root" and one.end > onset))
    )
    return max(near, default=None)


def _again(plan: Plan, passage: Passage, one: Station) -> Station:
    """A root that is not the first of its chord: elsewhere it may give way, in a walking line it does.

    There the third or fifth stands on beat one of a chord that goes on (from memory).
    """
    if one.tone != "root":
        return one
    planned = plan.chords[one.chord]
    early = one.onset < planned.onset
    begins = one.onset == planned.onset and (changes(plan, one.chord) or one.onset == passage.start)
    return one if begins or early else one._replace(tone="lasting" if one.walks else AGAIN)
