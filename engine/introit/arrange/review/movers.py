"""Measures of who moves: one part at a time, the comp in the melody's gaps."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from introit.arrange.review.breach import Breach, share
from introit.arrange.review.hearing import Hearing, Hit
from introit.arrange.score import BASS, COMP, MELODY, ScoreNote
from introit.units import TICKS_PER_QUARTER

BUSY = 2
"""A part moves in a beat in which it has two onsets or more."""
_ROLE = {MELODY: MELODY, COMP: COMP}


def one_mover(hearing: Hearing) -> Iterator[Breach]:
    """Of the beats in which anything begins, those where melody, comp and bass do not move two at a time."""
    bounds = hearing.measures["one mover"]
    beats: dict[int, dict[int, set[int]]] = defaultdict(lambda: defaultdict(set))
    for note in [*hearing.melody, *hearing.comp, *hearing.low_notes]:
        if note.onset < hearing.plan.head_tick and hearing.texture_at(note.onset) not in bounds.apart:
            role = _ROLE.get(note.part, BASS)
            beats[note.onset // TICKS_PER_QUARTER][role].add(note.onset)
    crowded = [beat for beat, roles in sorted(beats.items()) if _movers(roles) > 1]
    if len(beats) >= bounds.judged_from and share(len(beats) - len(crowded), len(beats)) < bounds.least:
        text = (
            f"two parts move at once in {len(crowded)} of {len(beats)} beats, here first; "
            f"in {bounds.least:g} percent at most one may"
        )
        yield hearing.breach("one mover", crowded[0] * TICKS_PER_QUARTER, text)


def in_the_gaps(hearing: Hearing) -> Iterator[Breach]:
    """Of the hits in bars with melody, those that begin where no melody note sounds."""
    bounds = hearing.measures["comp in the gaps"]
    hits = _hits_with_melody(hearing, bounds.apart)
    covered = [hit for hit in hits if _sounding_at(hearing.melody, hit.onset)]
    if len(hits) >= bounds.judged_from and share(len(hits) - len(covered), len(hits)) < bounds.least:
        text = (
            f"{len(hits) - len(covered)} of {len(hits)} hits fall in the melody's gaps, not this one; "
            f"{bounds.least:g} percent are wanted"
        )
        yield hearing.breach("comp in the gaps", covered[0].onset, text)


def on_the_melody(hearing: Hearing) -> Iterator[Breach]:
    """Of the hits in bars with melody, those that begin together with a melody note."""
    bounds = hearing.measures["comp on the melody"]
    hits = _hits_with_melody(hearing, bounds.apart)
    onsets = {note.onset for note in hearing.melody}
    doubling = [hit for hit in hits if hit.onset in onsets]
    if len(hits) >= bounds.judged_from and share(len(doubling), len(hits)) > bounds.most:
        text = (
            f"{len(doubling)} of {len(hits)} hits fall on the melody's onsets, here first; "
            f"at most {bounds.most:g} percent may"
        )
        yield hearing.breach("comp on the melody", doubling[0].onset, text)


def _movers(roles: dict[int, set[int]]) -> int:
    return sum(len(onsets) >= BUSY for onsets in roles.values())


def _hits_with_melody(hearing: Hearing, apart: frozenset[str]) -> list[Hit]:
    ticks = hearing.bar_ticks
    sung = {bar for note in hearing.melody for bar in range(note.onset // ticks, (note.end - 1) // ticks + 1)}
    return [hit for hit in hearing.hits if hit.onset // ticks in sung and hit.texture not in apart]


def _sounding_at(notes: list[ScoreNote], tick: int) -> bool:
    return any(note.onset <= tick < note.end for note in notes)


RULES = (one_mover, in_the_gaps, on_the_melody)
