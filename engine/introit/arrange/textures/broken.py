"""Broken: the notes of a grip one after another, low to high and back, each ringing on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, cycle, groupby, islice
from random import Random
from typing import NamedTuple

from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote
from introit.arrange.textures.ringing import Pick, ringing, ringing_floor
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish
from introit.theory.chord import Chord, ChordTone
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
PAIR = 2
TENSIONS = (9, 11, 13)
_QUARTER = TICKS_PER_QUARTER


class Place(NamedTuple):
    """A place in a bar's figure.

    Attributes:
        tick: from the start of the bar.
        stretch: number of the bar's unit, from 0.
        first: whether the unit begins there; such a place is never empty.
    """

    tick: int
    stretch: int
    first: bool


Rhythm = tuple[Place, ...]
"""The places of a bar that are played."""


@dataclass(frozen=True, slots=True)
class Broken:
    """Eighths, or quarters where it is fast; the lowest note on a chord change, each bar another contour."""

    stroked: bool = False
    sings: bool = False
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """An open position by preference, clear of the bass."""
        return plain._replace(families=plain.families or OPEN_FAMILIES, floor=ringing_floor(plain))

    def notes(self, work: Work) -> list[ScoreNote]:
        """The passage's notes, one an onset."""
        passage, bar_ticks = work.passage, work.scene.plan.bar_ticks
        dice = work.scene.dice("broken", passage.start)
        busy = _busy_beats(work)
        picks: list[Pick] = []
        contour, rhythm = -1, Rhythm()
        for bar in range(passage.start, passage.end, bar_ticks):
            first = work.scene.unit_at(bar)
            rhythm = _another(_rhythms(_places(work, first, busy)), rhythm, dice)
            contour = dice.choice([number for number in range(len(_CONTOURS)) if number != contour])
            picks += _figure(work, first, bar, rhythm, contour)
        return ringing(work, picks)


def _busy_beats(work: Work) -> frozenset[int]:
    """Beats, counted from the first, in which the melody has two onsets or more: one part moves at a time."""
    onsets = Counter(note.onset // _QUARTER for note in work.melody)
    return frozenset(beat for beat, count in onsets.items() if count > 1)


def _places(work: Work, first: int, busy: frozenset[int]) -> Rhythm:
    """Where notes may fall in a unit's bar: clear of the pickup, and of the last beat before the head.

    A last chord of two beats or less has no beat to give away.
    """
    plan, units = work.scene.plan, work.scene.units
    step = _QUARTER if plan.tempo > FAST else _QUARTER // 2
    long = units[-1].end - units[-1].start > 2 * _QUARTER
    clear_from = min(plan.pickup_tick, plan.head_tick - long * _QUARTER)
    bar = units[first].start
    return tuple(
        Place(tick - bar, stretch, tick == unit.start)
        for stretch, unit in enumerate(units[first : first + plan.meter.beats])
        for tick in range(unit.start, min(unit.end, bar + plan.bar_ticks), step)
        if tick == unit.start
        or (tick < clear_from and (tick % _QUARTER == 0 or tick // _QUARTER not in busy))
    )


def _another(rhythms: tuple[Rhythm, ...], before: Rhythm, dice: Random) -> Rhythm:
    """One of the rhythms, and another than before where there is another."""
    return dice.choice([rhythm for rhythm in rhythms if rhythm != before] or rhythms)


@lru_cache(maxsize=512)
def _rhythms(places: Rhythm) -> tuple[Rhythm, ...]:
    """A bar's rhythms: some places left empty, the last one among them where it can be.

    So the coming chord's first note is heard. Where only one rhythm does that, the others will do as well.
    """
    free = [place for place in places if not place.first]
    rhythms = [
        tuple(place for place in places if place not in empty)
        for empty in combinations(free, len(places) // PLACES_A_REST)
        if _still_told(places, empty)
    ]
    airy = [rhythm for rhythm in rhythms if places[-1] not in rhythm]
    return tuple(airy if len(airy) > 1 else rhythms) or (places,)


def _still_told(places: Rhythm, empty: Rhythm) -> bool:
    """Whether each chord keeps three notes, or all that it had room for."""
    room = Counter(place.stretch for place in places)
    lost = Counter(place.stretch for place in empty)
    return all(room[stretch] - lost[stretch] >= min(FEWEST, room[stretch]) for stretch in lost)


def _figure(work: Work, first: int, bar: int, rhythm: Rhythm, contour: int) -> list[Pick]:
    """The bar's notes: each unit's voices in the order of the contour."""
    picks = []
    for stretch, places in groupby(rhythm, key=lambda place: place.stretch):
        ticks = [bar + place.tick for place in places]
        order = _order(work, first + stretch, len(ticks), contour)
        picks += [Pick(tick, first + stretch, (voice,)) for tick, voice in zip(ticks, order, strict=True)]
    return picks


def _order(work: Work, unit: int, count: int, contour: int) -> list[int]:
    """So many voices of a unit in turn; the top, guide tones, the last dominant's tensions among them."""
    voices, chord = list(work.voices(unit)), work.scene.chord_of(unit).chord
    guides = _having(work, unit, chord.guide_tones)
    tense = _having(work, unit, _tensions(chord)) if _is_last_dominant(work, unit) else set()
    if count < len(voices):
        voices = _told_in(voices, guides, tense, count)
    for shape in (_CONTOURS[contour], _wave):
        order = [voices[index] for index in islice(cycle(shape(len(voices))), count)]
        if {voices[-1], *(guides | tense).intersection(voices)} <= set(order):
            break
    return order


def _told_in(voices: list[int], guides: set[int], tense: set[int], count: int) -> list[int]:
    """The voices heard where there is no time for all, rising: guide tones, tensions asked for, the top.

    Of two the top voice is one, for it is a line; else one of the tensions.
    """
    top = voices[-1] if voices[-1] in tense or not tense else max(tense)
    ranked = sorted(voices, key=lambda voice: (voice not in guides, voice not in tense, voice != top))
    chosen = ranked[:count]
    if count > 1 and top not in chosen and len(chosen) <= PAIR:
        chosen[-1] = top
    return sorted(chosen)


def _is_last_dominant(work: Work, unit: int) -> bool:
    """Whether a unit's chord is the dominant that is the intro's densest."""
    chords = work.scene.plan.chords[work.scene.units[unit].chord :]
    return chords[0].chord.is_dominant and not any(later.chord.is_dominant for later in chords[1:])


def _tensions(chord: Chord) -> list[ChordTone]:
    return [tone for tone in (*chord.required, *chord.optional) if tone.degree in TENSIONS]


def _having(work: Work, unit: int, tones: Iterable[ChordTone]) -> set[int]:
    """The voices of a unit that have one of the tones."""
    classes = [tone.pitch_class for tone in tones]
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
