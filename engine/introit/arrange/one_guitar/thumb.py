"""What the thumb plays where no bass player does: the lowest note of each grip, in time.

On each change, and in moving tempi again on the bar's second strong beat: the root once more, or the fifth
where the same hand has it on a low string and nothing above it rubs. In a ballad the note is left to ring.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from introit.arrange.comping import Stroke
from introit.arrange.scene import Scene, Unit
from introit.arrange.score import BASS, ScoreNote
from introit.arrange.shifting import SHORTEST
from introit.arrange.textures import TEXTURES
from introit.arrange.tones import MINOR_NINTHS
from introit.arrange.voicing import Voicing
from introit.theory.fretboard import Place
from introit.theory.grip import Grip
from introit.theory.holding import FrettingHand, hand_on, placed_on
from introit.theory.limits import is_muddy, too_low
from introit.units import TICKS_PER_QUARTER

STRUCK_AGAIN_FROM = 96.0
"""Quarter notes a minute from which the thumb keeps time; slower, its notes ring (judgement, no source)."""
SECOND_STRONG_BEAT = {3: 0, 4: 2, 5: 3}
"""Beats from the bar line; 0 for none: the meter's second strong beat."""
_LOW_STRINGS = 3
_FIFTHS = (-5, 7)


def thumb_notes(
    scene: Scene,
    voicings: Sequence[Voicing],
    strokes: Sequence[Stroke] = (),
    *,
    above: Sequence[ScoreNote] = (),
) -> list[ScoreNote]:
    """The bass notes of the grips, part BASS, with their places; none under a texture that brings its own.

    Args:
        scene: where; one pair of hands.
        voicings: one for each of the scene's units, the bass note the lowest of each.
        strokes: the comping hits; where one takes a chord early, the thumb goes with it.
        above: melody and comp of the whole intro; no fifth rubs against one of them.
    """
    hand = hand_on(scene.stage.fretboard)
    starts = _starts(scene, voicings, strokes, above)
    notes: list[ScoreNote] = []
    for index, unit in enumerate(scene.units):
        own = TEXTURES[scene.passages[unit.passage].texture].brings_bass
        if not own and scene.plan.strikes(scene.plan.chords[unit.chord]):
            end = min([scene.plan.quiet_tick, unit.end, *starts[index + 1 : index + 2]])
            notes += _of_unit(scene, index, voicings[index], hand, span=(starts[index], end), above=above)
    return [_let_go(note, above) for note in notes]


def _starts(
    scene: Scene, voicings: Sequence[Voicing], strokes: Sequence[Stroke], above: Sequence[ScoreNote]
) -> list[int]:
    """Where the thumb strikes each unit's bass note: where it begins, or with a push that takes it early.

    It waits for its chord where a note of the chord before would rub against it.
    """
    pushes = {stroke.unit: stroke.onset for stroke in reversed(strokes)}
    starts = []
    for index, unit in enumerate(scene.units):
        start, low = min(unit.start, pushes.get(index, unit.start)), voicings[index].bottom
        early = (note for note in above if note.onset < unit.start and start < note.end)
        onset = scene.plan.chords[unit.chord].onset
        rubs = any(note.harmony_tick < onset and note.pitch - low in MINOR_NINTHS for note in early)
        starts.append(unit.start if rubs else start)
    return starts


def _let_go(bass: ScoreNote, above: Sequence[ScoreNote]) -> ScoreNote:
    """The note, ended where one of a later chord comes in over it and would rub."""
    rubs = (
        note.onset
        for note in above
        if bass.onset + SHORTEST <= note.onset < bass.end
        and note.harmony_tick > bass.harmony_tick
        and note.pitch - bass.pitch in MINOR_NINTHS
    )
    return bass._replace(length=min(rubs, default=bass.end) - bass.onset)


def _of_unit(
    scene: Scene,
    index: int,
    voicing: Voicing,
    hand: FrettingHand,
    *,
    span: tuple[int, int],
    above: Sequence[ScoreNote],
) -> list[ScoreNote]:
    start, end = span
    unit = scene.units[index]
    if start >= end:
        return []
    again = _again(scene, unit)
    if again is None or again >= end:
        return [_note(scene, unit, voicing, (start, end), place=_own_place(voicing))]
    plain = index + 1 == len(scene.units) or scene.plan.chords[unit.chord].pedal is not None
    over = {note.pitch for note in above if note.onset < end and again < note.end}
    if voicing.bottom + 1 in over:  # a half step over the root is not struck again: the note is let go
        return [_note(scene, unit, voicing, (start, again), place=_own_place(voicing))]
    fifth = None if plain else _fifth(voicing, hand, over)  # the last note is the root, which leads home
    return [
        _note(scene, unit, voicing, (start, again), place=_own_place(voicing)),
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


def _own_place(voicing: Voicing) -> Place | None:
    return voicing.places[0] if voicing.places else None


def _fifth(voicing: Voicing, hand: FrettingHand, over: Collection[int]) -> Place | None:
    """A fifth of the bass note on a low string that the held grip leaves free, or that its bass note has.

    Every finger over it stays where it is.

    Args:
        voicing: the grip.
        hand: that holds it.
        over: MIDI notes that sound over it.
    """
    neck = hand.fretboard
    held = voicing.places[1:]
    taken = {place.string for place in held}
    placed = placed_on(held, voicing.fingers[1:], neck.strings)
    for step in _FIFTHS:
        if not all(_is_clear(voicing.bottom + step, pitch) for pitch in over):
            continue
        for place in neck.places(voicing.bottom + step):
            low = place.string > neck.strings - _LOW_STRINGS and place.string not in taken
            below = not is_muddy([voicing.bottom + step, *voicing.pitches[1:]])
            below &= voicing.bottom + step < min(voicing.pitches[1:], default=128)
            grip = Grip.from_places((place, *held), strings=neck.strings) if low and below else None
            if grip is not None and hand.hold_on(grip, placed) and _is_chord_tone(voicing, step):
                return place
    return None


def _is_clear(low: int, high: int) -> bool:
    """Whether a bass note may lie under another: below it, without mud, and no minor ninth away."""
    return low < high and not too_low(low, high) and high - low not in MINOR_NINTHS


def _is_chord_tone(voicing: Voicing, step: int) -> bool:
    """The plain fifth goes under any grip that does not sound another one a half step away."""
    fifth = (voicing.bottom + step) % 12
    return not {(fifth - 1) % 12, (fifth + 1) % 12} & {pitch % 12 for pitch in voicing.pitches[1:]}
