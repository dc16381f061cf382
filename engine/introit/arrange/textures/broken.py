"""Broken: the notes of a grip one after another, low to high and back, each ringing on."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import combinations, cycle, islice
from random import Random
from typing import NamedTuple

from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote
from introit.arrange.textures.ringing import Pick, pickup_tick, ringing
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish
from introit.units import TICKS_PER_QUARTER

FAST = 180.0
"""Quarter notes a minute above which the notes follow each other in quarters: an eighth at 180 lasts 167 ms,
and a comp that is busier still is an exercise (judgement, no source)."""
OPEN_FAMILIES = ("drop 2", "drop 3", "spread")
"""Wide enough for a line to be heard in them."""
PLACES_A_REST = 4
"""One place in so many stays empty, so that the figure breathes (judgement, no source)."""
FEWEST = 3
"""Notes that a chord keeps, if it has the places (judgement, no source)."""
_QUARTER = TICKS_PER_QUARTER


class Place(NamedTuple):
    """A place in the figure.

    Attributes:
        tick: its onset.
        unit: index of the unit.
        first: whether the unit begins there; such a place is never empty.
    """

    tick: int
    unit: int
    first: bool


@dataclass(frozen=True, slots=True)
class Broken:
    """Eighths, or quarters where it is fast; the lowest note on a chord change, each bar another contour."""

    stroked: bool = False
    sings: bool = False
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """An open position by preference."""
        return plain if plain.families else plain._replace(families=OPEN_FAMILIES)

    def notes(self, work: Work) -> list[ScoreNote]:
        """The passage's notes, one an onset."""
        passage, bar_ticks = work.passage, work.scene.plan.bar_ticks
        dice = work.scene.dice("broken", passage.start)
        busy = _busy_beats(work)
        picks: list[Pick] = []
        contour, rhythm = -1, frozenset[int]()
        for bar in range(passage.start, passage.end, bar_ticks):
            places = _places(work, bar, busy)
            rhythm = _breathing(places, bar, dice, before=rhythm)
            contour = dice.choice([number for number in range(len(_CONTOURS)) if number != contour])
            picks += _figure(work, [place for place in places if place.tick - bar in rhythm], contour)
        return ringing(work, picks)


def _busy_beats(work: Work) -> frozenset[int]:
    """Beats, counted from the first, in which the melody has two onsets or more: one part moves at a time."""
    onsets = Counter(note.onset // _QUARTER for note in work.melody)
    return frozenset(beat for beat, count in onsets.items() if count > 1)


def _places(work: Work, bar: int, busy: frozenset[int]) -> list[Place]:
    """Where notes may fall in a bar: clear of the pickup, and of the last beat before the head."""
    scene, plan = work.scene, work.scene.plan
    step = _QUARTER if plan.tempo > FAST else _QUARTER // 2
    clear_from = min(pickup_tick(plan), plan.head_tick - _QUARTER)
    starts = {scene.units[unit].start for unit in work.units}
    return [
        Place(tick, scene.unit_at(tick), tick in starts)
        for tick in range(bar, bar + plan.bar_ticks, step)
        if tick in starts or (tick < clear_from and (tick % _QUARTER == 0 or tick // _QUARTER not in busy))
    ]


def _breathing(places: list[Place], bar: int, dice: Random, *, before: frozenset[int]) -> frozenset[int]:
    """The bar's rhythm, as ticks from its start: some places left empty, not as in the bar before.

    The last place stays empty where it can, so that the coming chord's first note is heard.
    """
    rests = len(places) // PLACES_A_REST
    rhythms = [
        frozenset(place.tick - bar for place in places if place not in empty)
        for empty in combinations([place for place in places if not place.first], rests)
        if _still_told(places, empty)
    ]
    airy = [rhythm for rhythm in rhythms if places[-1].tick - bar not in rhythm] or rhythms
    fresh = _other(airy, before) or _other(rhythms, before) or rhythms
    return dice.choice(fresh) if fresh else frozenset(place.tick - bar for place in places)


def _other(rhythms: list[frozenset[int]], before: frozenset[int]) -> list[frozenset[int]]:
    return [rhythm for rhythm in rhythms if rhythm != before]


def _still_told(places: list[Place], empty: tuple[Place, ...]) -> bool:
    """Whether each chord keeps three notes, or all that it had room for."""
    room = Counter(place.unit for place in places)
    lost = Counter(place.unit for place in empty)
    return all(room[unit] - lost[unit] >= min(FEWEST, room[unit]) for unit in lost)


def _figure(work: Work, places: list[Place], contour: int) -> list[Pick]:
    """The bar's notes: each unit's voices in the order of the contour."""
    picks = []
    for unit in dict.fromkeys(place.unit for place in places):
        ticks = [place.tick for place in places if place.unit == unit]
        order = _order(work, unit, len(ticks), contour)
        picks += [Pick(tick, unit, (voice,)) for tick, voice in zip(ticks, order, strict=True)]
    return picks


def _order(work: Work, unit: int, count: int, contour: int) -> list[int]:
    """So many voices of a unit, one after another; its guide tones are among them."""
    voices, guides = list(work.voices(unit)), _guides(work, unit)
    if count < len(voices):
        voices = _told_in(voices, guides, count)
    for shape in (_CONTOURS[contour], _wave):
        order = [voices[index] for index in islice(cycle(shape(len(voices))), count)]
        if guides & set(voices) <= set(order):
            break
    return order


def _told_in(voices: list[int], guides: set[int], count: int) -> list[int]:
    """The voices that tell a chord in few notes, rising: guide tones, then the outer ones."""
    by_weight = sorted(voices, key=lambda voice: (voice not in guides, voice not in (voices[0], voices[-1])))
    return sorted(by_weight[:count])


def _guides(work: Work, unit: int) -> set[int]:
    classes = {tone.pitch_class for tone in work.scene.chord_of(unit).chord.guide_tones}
    pitches = work.voicings[unit].pitches
    return {voice for voice in work.voices(unit) if pitches[voice] % 12 in classes}


def _wave(voices: int) -> list[int]:
    """Up and back: 1 2 3 4 3 2."""
    return [*range(voices), *range(voices - 2, 0, -1)]


def _climb(voices: int) -> list[int]:
    """Up, and up again from the second: 1 2 3 4 2 3 4."""
    return [*range(voices), *range(1, voices)] if voices > 2 else [*range(voices)]


def _skips(voices: int) -> list[int]:
    """Up by every other voice, and back: 1 3 2 4 3 2."""
    leaps = [index for low in range(voices - 2) for index in (low, low + 2)]
    return [*dict.fromkeys(leaps), *range(voices - 2, 0, -1)] if voices > 2 else [*range(voices)]


def _late(voices: int) -> list[int]:
    """Back once before the top is reached: 1 2 3 2 4 3 2."""
    top = voices - 1
    return [*range(top), top - 2, top, *range(top - 1, 0, -1)] if voices > 2 else [*range(voices)]


_CONTOURS = (_wave, _climb, _skips, _late)
