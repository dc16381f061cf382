"""Measures of the comp's top voice: a line of its own, that keeps under the melody."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby, pairwise
from typing import NamedTuple

from introit.arrange.review.breach import Breach, pitch_name, plural, share
from introit.arrange.review.hearing import Hearing, Hit
from introit.arrange.score import COMP, MELODY, Touch

STEP, FOURTH = 2, 5


class _Move(NamedTuple):
    """From one top note of the comp to the next; ticks of the first and of the second."""

    since: int
    tick: int
    before: int
    after: int

    @property
    def size(self) -> int:
        return abs(self.after - self.before)


def steps(hearing: Hearing) -> Iterator[Breach]:
    """Of the moves of the comp's top voice from hit to hit, the steps and repeats.

    A texture with a rhythm of its own has one top note a chord in each bar: the highest.
    """
    bounds = hearing.measures["top voice steps"]
    moves = _moves(hearing, bounds.apart)
    smooth = [move for move in moves if move.size <= STEP]
    if len(moves) >= bounds.judged_from and share(len(smooth), len(moves)) < bounds.least:
        worst = max(moves, key=lambda move: move.size)
        leap = f"{pitch_name(worst.before)} to {pitch_name(worst.after)}"
        text = (
            f"comp: {len(smooth)} of {len(moves)} moves of the top voice are steps or repeats, not {leap}; "
            f"{bounds.least:g} percent are wanted"
        )
        yield hearing.breach("top voice steps", worst.tick, text)


def leaps(hearing: Hearing) -> Iterator[Breach]:
    """Leaps of the comp's top voice over a fourth, within four bars running.

    A leap into the melody's place as a phrase ends, or out of it as one begins, is none to the ear: what is
    on top goes on from the one to the other. Nor is one into a landing, which makes room for the tune.
    """
    bounds = hearing.measures["top voice leaps"]
    most, reach = int(bounds.most), bounds.bars * hearing.bar_ticks
    found = [
        move
        for move in _moves(hearing, bounds.apart)
        if move.size > FOURTH and move.tick < hearing.plan.head_tick and not _goes_on(hearing, move)
    ]
    for earlier, later in zip(found, found[most:], strict=False):
        if later.tick - earlier.tick < reach:
            text = (
                f"comp: the top voice leaps from {pitch_name(later.before)} to {pitch_name(later.after)}, "
                f"over a fourth; {plural(most, 'such leap')} in {bounds.bars} bars at most"
            )
            yield hearing.breach("top voice leaps", later.tick, text)


def _goes_on(hearing: Hearing, move: _Move) -> bool:
    """Whether a leap takes over from the melody, or hands over to it, no farther than a fourth away.

    Going up, from the last note of the melody since the top voice was heard; going down, to its first note in
    the bar that follows.
    """
    if move.after > move.before:
        sung = [note.pitch for note in hearing.melody if move.since < note.end and note.onset < move.tick]
        return bool(sung) and abs(move.after - sung[-1]) <= FOURTH
    end = move.tick + hearing.bar_ticks
    sung = [note.pitch for note in hearing.melody if move.tick < note.end and note.onset < end]
    return bool(sung) and abs(move.before - sung[0]) <= FOURTH


def under_the_melody(hearing: Hearing) -> Iterator[Breach]:
    """The comp lies under every melody note that sounds with it, by a third at least."""
    bounds = hearing.measures["under the melody"]
    for tick, low, high in hearing.pairs:
        if {low.part, high.part} != {COMP, MELODY} or Touch.ORNAMENT in (low.touch, high.touch):
            continue
        melody, comp = (high, low) if high.part == MELODY else (low, high)
        if melody.pitch - comp.pitch < bounds.least and hearing.texture_at(comp.onset) not in bounds.apart:
            text = f"comp: {pitch_name(comp.pitch)} is no third under the melody's {pitch_name(melody.pitch)}"
            yield hearing.breach("under the melody", tick, text)


def melodys_place(hearing: Hearing) -> Iterator[Breach]:
    """While a phrase lasts, no note of the comp begins at or above its lowest note.

    A texture's own upper line goes where the comp was: of a phrase that comes out of one, the rest counts.
    """
    apart = hearing.measures["melody's place"].apart
    whole = ([note for note in one if hearing.texture_at(note.onset) not in apart] for one in hearing.phrases)
    for phrase in filter(None, whole):
        start, end = phrase[0].onset, max(note.end for note in phrase)
        lowest = min(note.pitch for note in phrase)
        high = [
            note
            for note in hearing.comp
            if start <= note.onset < end
            and note.pitch >= lowest
            and hearing.texture_at(note.onset) not in apart
        ]
        if high:
            name = pitch_name(lowest)
            text = f"comp: {pitch_name(high[0].pitch)} is in the place of a phrase that goes down to {name}"
            yield hearing.breach("melody's place", high[0].onset, text)


def _moves(hearing: Hearing, apart: frozenset[str]) -> list[_Move]:
    """Moves between neighbours; none over a passage that is left out."""
    stretches = (
        list(tops)
        for is_apart, tops in groupby(_tops(hearing), key=lambda top: top[2] in apart)
        if not is_apart
    )
    return [
        _Move(earlier[0], later[0], earlier[1], later[1])
        for tops in stretches
        for earlier, later in pairwise(tops)
    ]


def _tops(hearing: Hearing) -> Iterator[tuple[int, int, str]]:
    """(tick, pitch, texture) of each hit's top voice; of each chord's in a rhythm of the texture's own.

    The landing's chord is left out, pushed or not: it is the head's, where another line begins.
    In a rhythm of the texture's own a note alone, where a melody left no room for the rest of a figure, is no
    top voice: nobody hears the lowest note of a broken chord go on from the top of the chord before.
    """
    own = hearing.measures.own_rhythm
    units: dict[tuple[int, int], int] = {}
    found: list[list[Hit]] = []
    for hit in hearing.onsets:
        if hit.notes[0].harmony_tick >= hearing.plan.head_tick:
            continue
        unit = hit.onset // hearing.bar_ticks, hit.notes[0].harmony_tick
        if hit.texture in own and unit in units:
            found[units[unit]].append(hit)
            continue
        if hit.texture in own:
            units[unit] = len(found)
        found.append([hit])
    for hits in found:
        if hits[0].texture not in own or sum(len(hit.notes) for hit in hits) > 1:
            yield hits[0].onset, max(hit.top for hit in hits), hits[0].texture


RULES = (steps, leaps, under_the_melody, melodys_place)
