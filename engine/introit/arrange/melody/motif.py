"""The melody as a motif: written once, and changed in one thing when it returns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from introit.arrange.melody.ending import goal_of, melody_limit
from introit.arrange.melody.fit import Note, Saying, changed, fitted, misfit, shifted
from introit.arrange.melody.line import lead_in
from introit.arrange.melody.palette import palette_of
from introit.arrange.melody.phrases import HALF_BEAT
from introit.arrange.melody.register import Register, motif_register, register_of
from introit.arrange.melody.slots import chord_under, sounds_on_strong_beat
from introit.arrange.melody.tones import nominals
from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.arrange.score import MELODY, ScoreNote
from introit.arrange.textures import silences_motif
from introit.arrange.textures.room import BREATH
from introit.library.model import MotifNote
from introit.units import ticks

# Prices of where a saying of the motif lies. Judgement, no source.
_OFF_CENTRE = 0.25
"""A semitone off the middle of the line's register."""
_OUTSIDE = 1.5
"""A semitone outside that register."""
_MISFIT = 3.0
"""A semitone by which a note is bent to fit its chord or the register."""
_FREE_LEAP, _FAR_LEAP = 5, 8.0
"""Over a fourth, from one saying's first note to the next one's, each semitone costs more."""
_NO_OTHER_OCTAVE = 6.0
"""A place from which a motif that is to return in another octave cannot."""
_NOT_AS_BEFORE = 12.0
"""A saying that is an earlier one in another octave: a motif is known by its return."""


class Sounded(NamedTuple):
    """One note of a saying in time.

    Attributes:
        onset, end: ticks.
        chord: index of the chord that it belongs to.
        written: as the motif has it.
    """

    onset: int
    end: int
    chord: int
    written: MotifNote


def motif_notes(scene: Scene) -> list[ScoreNote]:
    """The motif in each of its bars, and the way to the tune's first note where that is named."""
    sayings = list(_in_time(scene))
    notes = [
        note
        for group, pitches in zip(sayings, _pitches(scene, sayings), strict=True)
        for note in _written(scene.plan, group, pitches)
    ]
    return [*notes, *lead_in(scene, notes)]


def motif_starts(plan: Plan) -> list[int]:
    """Bars of the plan, from 0, in which the motif begins.

    Those named, or as many as it fills before the last bar; where the intro is stretched it is said again
    until what was written as its room is full.
    """
    melody = plan.intro.melody
    long = melody.motif_bars
    if not melody.bars:
        return list(range(0, max(1, plan.bars - long), long))
    starts: list[int] = []
    for bar in range(plan.bars):
        number = int(bar / plan.scale) + 1  # of the form, from 1
        inside = any(begin <= number < begin + long for begin in melody.bars)
        inside = inside and (plan.scale >= 1 or number in melody.bars)
        if inside and (not starts or bar >= starts[-1] + long):
            starts.append(bar)
    return starts


def _in_time(scene: Scene) -> Iterator[list[Sounded]]:
    """Each saying on the plan, cut at the melody's end and at the next one; none in textures that sing."""
    plan, goal = scene.plan, goal_of(scene.plan)
    limit = melody_limit(plan) if goal is None else min(melody_limit(plan), goal.tick - BREATH)
    figure = [
        (note.bar * plan.bar_ticks + ticks(note.position), ticks(note.length), note)
        for note in plan.intro.melody.motif
    ]
    onsets = [
        [(start * plan.bar_ticks + after, length, note) for after, length, note in figure]
        for start in motif_starts(plan)
    ]
    for number, group in enumerate(onsets):
        end = min(limit, onsets[number + 1][0][0]) if number + 1 < len(onsets) else limit
        said = [
            _sounded(plan, onset, min(onset + length, end), note)
            for onset, length, note in group
            if 0 <= onset < end and not silences_motif(scene.passage_at(onset).texture)
        ]
        if said:
            yield said


def _sounded(plan: Plan, onset: int, end: int, note: MotifNote) -> Sounded:
    return Sounded(onset, end, chord_under(plan, onset, end), note)


def _pitches(scene: Scene, sayings: Sequence[Sequence[Sounded]]) -> list[list[int]]:
    """The pitches of every saying: the first as written, each return with one change."""
    plan, register = scene.plan, motif_register(scene)
    built = [_saying(plan, group) for group in sayings]
    options = [_places(scene, group, saying, register) for group, saying in zip(sayings, built, strict=True)]
    chosen = _placed(options)
    change = plan.intro.melody.change
    return [
        _returned(change, saying, pitches, number=number, register=register)
        for number, (saying, pitches) in enumerate(zip(built, chosen, strict=True))
    ]


def _returned(
    change: str, saying: Saying, pitches: list[int], *, number: int, register: Register
) -> list[int]:
    if not number or change == "none":
        return pitches
    if change == "octave":
        moved = shifted(pitches, register)
        if moved is not None:
            return moved
    return changed(saying, pitches, inner=change == "inner", number=number, register=register)


def _saying(plan: Plan, group: Sequence[Sounded]) -> Saying:
    """What fitting must know of each note."""
    notes: list[Note] = []
    for index, one in enumerate(group):
        following = group[index + 1].onset if index + 1 < len(group) else None
        goes_on = following is not None and following - one.end < HALF_BEAT
        heavy = sounds_on_strong_beat(plan, one.onset, one.end) or one.end - one.onset > HALF_BEAT
        altered = any(sign in one.written.tone for sign in "b#")
        notes.append(Note(palette_of(plan.chords[one.chord]), heavy or not goes_on, altered))
    return Saying(tuple(notes), _contour(plan, group))


def _contour(plan: Plan, group: Sequence[Sounded]) -> tuple[int | None, ...]:
    """From note to note -1, 0 or 1: down, the same, up; None where the chords decide.

    They do where a chord changes under the same degree, and under degrees of the chord wherever it changes:
    the third of one goes to the seventh of the next by step, whichever way that is.
    """
    return tuple(_way(plan, before, after) for before, after in pairwise(group))


def _way(plan: Plan, before: Sounded, after: Sounded) -> int | None:
    tones = plan.intro.melody.tones
    if tones == "contour":
        steps = int(after.written.tone)
        way = (steps > 0) - (steps < 0)
    else:
        low, high = _height(before.written.tone), _height(after.written.tone)
        way = (high > low) - (high < low)
    free = before.chord != after.chord and (tones == "chord" or not way)
    return None if free else way


def _height(tone: str) -> tuple[int, int]:
    """Where a degree stands: its line, then its alteration."""
    name = tone.rstrip("+-")
    octaves = tone.count("+") - tone.count("-")
    return int(name.lstrip("b#")) + 7 * octaves, name.count("#") - name.count("b")


def _places(
    scene: Scene, group: Sequence[Sounded], saying: Saying, register: Register
) -> list[tuple[float, list[int]]]:
    """Every octave that a saying could lie in: its price there, and its pitches."""
    places = []
    for line in nominals(scene.plan, [(one.chord, one.written.tone) for one in group], register):
        pitches = fitted(saying, line, register)
        bent = misfit(saying, pitches, line, register)
        price = _MISFIT * bent + _place_price(pitches, register_of(scene))
        if scene.plan.intro.melody.change == "octave" and shifted(pitches, register) is None:
            price += _NO_OTHER_OCTAVE
        places.append((price, pitches))
    return places


def _place_price(pitches: Sequence[int], usual: Register) -> float:
    lowest, highest = min(pitches), max(pitches)
    outside = max(0, usual.lowest - lowest) + max(0, highest - usual.highest)
    return _OUTSIDE * outside + _OFF_CENTRE * abs((lowest + highest - usual.lowest - usual.highest) / 2)


def _placed(options: Sequence[list[tuple[float, list[int]]]]) -> list[list[int]]:
    """One place for each saying: in the register, near to each other, a return where it was before."""
    ways: list[tuple[float, list[list[int]]]] = [(0.0, [])]
    for places in options:
        ways = [
            min((cost + price + _move_price(way, pitches), [*way, pitches]) for cost, way in ways)
            for price, pitches in places
        ]
    return min(ways)[1]


def _move_price(way: Sequence[list[int]], pitches: list[int]) -> float:
    if not way:
        return 0.0
    leap = abs(pitches[0] - way[-1][0])
    price = leap + _FAR_LEAP * max(0, leap - _FREE_LEAP)
    for earlier in way:
        apart = pitches[0] - earlier[0]
        if apart and apart % 12 == 0 and [pitch - apart for pitch in pitches] == earlier:
            price += _NOT_AS_BEFORE
    return price


def _written(plan: Plan, group: Sequence[Sounded], pitches: Sequence[int]) -> list[ScoreNote]:
    return [
        ScoreNote(
            onset=one.onset,
            length=one.end - one.onset,
            harmony_tick=plan.chords[one.chord].onset,
            part=MELODY,
            pitch=pitch,
            accent=not one.onset % plan.bar_ticks,
        )
        for one, pitch in zip(group, pitches, strict=True)
    ]
