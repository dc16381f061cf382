"""Bell: neighbouring notes of one held grip, two at a time, each ringing on until the chord changes."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from introit.arrange.plan import PlannedChord
from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote
from introit.arrange.textures.ringing import Pick, ringing, ringing_floor
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish
from introit.theory.chord import Chord
from introit.theory.plucking import Plucking
from introit.units import TICKS_PER_QUARTER

SLOW = 84.0
"""Quarter notes a minute below which the pairs follow each other in eighths (judgement, no source)."""
FULL, SPARE = 5, 4
"""Strings of a grip where there is time for three pairs, and where there is not."""
GUIDE, TENSION, FIFTH = 2, 3, 5
"""What a guide tone and a dominant's tension tell, against each other (judgement, no source); a degree."""
_QUARTER, _EIGHTH = TICKS_PER_QUARTER, TICKS_PER_QUARTER // 2


@dataclass(frozen=True, slots=True)
class Bell:
    """Pairs of neighbours in rising and falling waves; after a wave the grip rings, then one pair answers.

    The passage's last wave rises, and comes to rest: it is half as fast where there is room.
    """

    stroked: bool = False
    sings: bool = False
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """A grip with a closed second; open strings only where this chord and the next both have them."""
        voices = FULL if _slots(scene, unit) > 2 else SPARE
        bell = plain._replace(kind="bell", most_voices=voices, floor=ringing_floor(plain))
        if scene.seats.comp_on != "guitar":
            return bell
        open_strings = _members(scene.chord_of(unit)) & _next_members(scene, unit)
        return bell._replace(open_strings=open_strings, adjacent=scene.stage.plucking is Plucking.PICK)

    def notes(self, work: Work) -> list[ScoreNote]:
        """The passage's pairs."""
        dice = work.scene.dice("bell", work.passage.start)
        sung = {note.onset // _QUARTER for note in work.melody}
        rising, picks = dice.random() < 0.5, list[Pick]()
        units = work.units
        for unit in units:
            last = unit == units[-1]
            picks += _rung(work, unit, rising=rising or last, answer=None if last else dice, sung=sung)
            rising = not rising
        return ringing(work, picks)


def _rung(work: Work, unit: int, *, rising: bool, answer: Random | None, sung: set[int]) -> list[Pick]:
    """One unit's pairs: a wave from its first beat, and, where there is room, a pair that answers it.

    Args:
        work: the passage.
        unit: index of the unit.
        rising: whether the wave rises.
        answer: dice for the pair that answers; None where the wave ends the passage.
        sung: beats, counted from the first, in which a melody note begins: nothing answers there.
    """
    voices, start = work.voices(unit), work.scene.units[unit].start
    if len(voices) < 2:
        return [Pick(start, unit, tuple(voices))]
    step, slots = _step(work.scene, unit), _slots(work.scene, unit)
    wave = _wave(len(voices), rising=rising)
    if answer is None:
        step = _last_step(work.scene, unit, len(wave))
    if slots < len(wave):
        wave = [_telling(work, unit)] if slots < 2 else [wave[0], wave[-1]]
    pairs = dict(enumerate(wave))
    if answer is not None and slots >= len(wave) + 2:
        at = answer.randrange(len(wave) + 1, slots)
        if (start + at * step) // _QUARTER not in sung:
            pairs[at] = answer.choice([pair for pair in range(len(voices) - 1) if pair != wave[-1]] or wave)
    return [
        Pick(start + at * step, unit, (voices[pair], voices[pair + 1])) for at, pair in sorted(pairs.items())
    ]


def _wave(voices: int, *, rising: bool) -> list[int]:
    """The lower voice of each pair, until every voice has sounded: 1-2, 3-4; of five 1-2, 3-4, 4-5."""
    pairs = list(range(0, voices - 1, 2))
    if pairs[-1] != voices - 2:
        pairs.append(voices - 2)
    return pairs if rising else pairs[::-1]


def _telling(work: Work, unit: int) -> int:
    """The pair that tells most of the chord, where there is time for one only; of a dominant, its tension."""
    chord = work.scene.chord_of(unit).chord
    guides = {tone.pitch_class for tone in chord.guide_tones}
    plain = {chord.root.pitch_class, *(tone.pitch_class for tone in chord.required if tone.degree == FIFTH)}
    classes = [work.voicings[unit].pitches[voice] % 12 for voice in work.voices(unit)]
    worth = [
        GUIDE if one in guides else chord.is_dominant * TENSION if one not in plain else 0 for one in classes
    ]
    return max(range(len(worth) - 1), key=lambda pair: (worth[pair] + worth[pair + 1], pair))


def _step(scene: Scene, unit: int) -> int:
    """Ticks from pair to pair: quarters, or eighths where it is slow or there is room for one pair only."""
    return _EIGHTH if scene.plan.tempo < SLOW or _room(scene, unit) < 2 * _QUARTER else _QUARTER


def _last_step(scene: Scene, unit: int, pairs: int) -> int:
    """Ticks from pair to pair of a passage's last wave."""
    return _QUARTER if _room(scene, unit) >= pairs * _QUARTER else _step(scene, unit)


def last_top(scene: Scene, unit: int, voices: int) -> int:
    """Tick at which the highest pair of a passage's last unit is heard, where a grip has so many voices."""
    pairs = len(_wave(voices, rising=True))
    step = _last_step(scene, unit, pairs)
    return scene.units[unit].start + step * (min(pairs, max(1, _room(scene, unit) // step)) - 1)


def _slots(scene: Scene, unit: int) -> int:
    """How many pairs there is time for; one in the beats of a pickup."""
    return max(1, _room(scene, unit) // _step(scene, unit))


def _room(scene: Scene, unit: int) -> int:
    """Ticks of a unit before the pickup; below 0 where it begins in it."""
    one = scene.units[unit]
    return min(one.end, scene.plan.pickup_tick) - one.start


def _members(planned: PlannedChord) -> frozenset[int]:
    own = _tones(planned.chord)
    return own | {planned.pedal.pitch_class} if planned.pedal else own


def _next_members(scene: Scene, unit: int) -> frozenset[int]:
    if unit + 1 < len(scene.units):
        return _members(scene.chord_of(unit + 1))
    return _tones(scene.plan.head)


def _tones(chord: Chord) -> frozenset[int]:
    return frozenset(tone.pitch_class for tone in (*chord.required, *chord.optional))
