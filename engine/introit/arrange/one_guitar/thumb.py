"""What the thumb plays where no bass player does: the lowest note of each grip, in time.

On each change, and in moving tempi again on the bar's second strong beat: the root once more, or the fifth
where the same hand has it on a low string. In a ballad the note is left to ring.
"""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.scene import Scene, Unit
from introit.arrange.score import BASS, ScoreNote
from introit.arrange.textures import TEXTURES
from introit.arrange.voicing import Voicing
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Place
from introit.theory.grip import Grip
from introit.theory.holding import FrettingHand
from introit.units import TICKS_PER_QUARTER, ticks

STRUCK_AGAIN_FROM = 96.0
"""Quarter notes a minute from which the thumb keeps time; slower, its notes ring (judgement, no source)."""
SECOND_STRONG_BEAT = {3: 0, 4: 2, 5: 3}
"""Beats from the bar line; 0 for none: the meter's second strong beat."""
_LOW_STRINGS = 3
_FIFTHS = (-5, 7)


def thumb_notes(scene: Scene, voicings: Sequence[Voicing]) -> list[ScoreNote]:
    """The bass notes of the grips, part BASS, with their places; none under a texture that brings its own.

    Args:
        scene: where; one pair of hands.
        voicings: one for each of the scene's units, the bass note the lowest of each.
    """
    hand = FrettingHand(scene.stage.fretboard)
    notes: list[ScoreNote] = []
    for index, unit in enumerate(scene.units):
        if not TEXTURES[scene.passages[unit.passage].texture].brings_bass:
            notes += _of_unit(scene, unit, voicings[index], hand)
    return notes


def _of_unit(scene: Scene, unit: Unit, voicing: Voicing, hand: FrettingHand) -> list[ScoreNote]:
    end = min(unit.end, _pickup_start(scene))
    again = _again(scene, unit)
    if unit.start >= end:
        return []
    if again is None or again >= end:
        return [_note(scene, unit, voicing, (unit.start, end), place=_own_place(voicing))]
    fifth = None if _pedal(scene, unit) else _fifth(voicing, hand)
    return [
        _note(scene, unit, voicing, (unit.start, again), place=_own_place(voicing)),
        _note(scene, unit, voicing, (again, end), place=fifth or _own_place(voicing), hand=hand),
    ]


def _note(
    scene: Scene,
    unit: Unit,
    voicing: Voicing,
    span: tuple[int, int],
    *,
    place: Place | None,
    hand: FrettingHand | None = None,
) -> ScoreNote:
    pitch = voicing.bottom
    if place is not None and hand is not None:
        pitch = hand.fretboard.pitch(place.string, place.fret)
    return ScoreNote(
        onset=span[0],
        length=span[1] - span[0],
        harmony_tick=scene.plan.chords[unit.chord].onset,
        part=BASS,
        pitch=pitch,
        accent=not span[0] % scene.plan.bar_ticks,
        string=place.string if place else None,
        fret=place.fret if place else None,
        finger=voicing.fingers[0] if voicing.fingers and pitch == voicing.bottom else None,
    )


def _again(scene: Scene, unit: Unit) -> int | None:
    """Tick at which the thumb strikes again within a unit; None where it does not."""
    beats = SECOND_STRONG_BEAT[scene.plan.meter.beats]
    tick = unit.start - unit.start % scene.plan.bar_ticks + beats * TICKS_PER_QUARTER
    inside = unit.start < tick < unit.end
    return tick if beats and inside and scene.plan.tempo >= STRUCK_AGAIN_FROM else None


def _pickup_start(scene: Scene) -> int:
    return scene.plan.head_tick - ticks(scene.plan.tune.pickup)


def _own_place(voicing: Voicing) -> Place | None:
    return voicing.places[0] if voicing.places else None


def _pedal(scene: Scene, unit: Unit) -> bool:
    return scene.plan.chords[unit.chord].pedal is not None


def _fifth(voicing: Voicing, hand: FrettingHand) -> Place | None:
    """A fifth of the bass note on a low string that the held grip leaves free, or that its bass note has."""
    neck = hand.fretboard
    held = voicing.places[1:]
    taken = {place.string for place in held}
    for step in _FIFTHS:
        for place in neck.places(voicing.bottom + step):
            low = place.string > neck.strings - _LOW_STRINGS and place.string not in taken
            below = voicing.bottom + step < min(voicing.pitches[1:], default=128)
            grip = Grip.from_places((place, *held), strings=neck.strings) if low and below else None
            if grip is not None and isinstance(hand.hold(grip), Fingering) and _is_chord_tone(voicing, step):
                return place
    return None


def _is_chord_tone(voicing: Voicing, step: int) -> bool:
    """The plain fifth goes under any grip that does not sound another one a half step away."""
    fifth = (voicing.bottom + step) % 12
    return not {(fifth - 1) % 12, (fifth + 1) % 12} & {pitch % 12 for pitch in voicing.pitches[1:]}
