"""Chords that wait for the player: said once, rung until the foot lets time go on.

A fermata over the last dominant, or over every chord of the bars that are played colla voce. What a waiting
chord has to say is said at its beginning: its bass note, its whole grip once, the melody that belongs to it,
up to a note that can rest there. Then all of it rings, and time waits.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from introit.arrange.comping import Stroke
from introit.arrange.led import out_of_time_until, waiting_chords
from introit.arrange.melody.palette import Status, palette_of
from introit.arrange.plan import PlannedChord
from introit.arrange.scene import Scene
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, ScoreNote, Touch
from introit.arrange.textures import Work
from introit.arrange.voicing import Voicing, Wish
from introit.arrange.voicing.bass_room import LOWEST_BASS, USUAL_BASS, places_of
from introit.units import TICKS_PER_QUARTER

_NEAR = TICKS_PER_QUARTER // 4
"""Ticks after the beat within which a melody note takes the place of one that would come before it."""
_UNDER_THE_GRIP = 3
"""Semitones that a bass note lies under the grip at least."""


def in_time(scene: Scene, strokes: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """The comping hits but those of waiting chords, which take no chord early and are struck once."""
    waiting = {chord.onset for chord in waiting_chords(scene.plan)}
    return tuple(stroke for stroke in strokes if scene.chord_of(stroke.unit).onset not in waiting)


def asked_whole(scene: Scene, wishes: Sequence[Wish]) -> list[Wish]:
    """The wishes for the scene's units, each waiting chord's for a grip that is the whole chord."""
    waiting = {scene.unit_at(chord.onset) for chord in waiting_chords(scene.plan)}
    return [
        wish._replace(whole=True, kind="comp") if unit in waiting else wish
        for unit, wish in enumerate(wishes)
    ]


def with_whole_grips(
    scene: Scene, voicings: tuple[Voicing, ...], notes: Sequence[ScoreNote], melody: Sequence[ScoreNote]
) -> list[ScoreNote]:
    """The notes, the comp of each waiting chord one whole grip, whatever the texture makes of it elsewhere.

    Rolled out of time, and in a rolled passage; in time it is one stroke.

    Args:
        scene: where.
        voicings: one for each unit.
        notes: of the textures.
        melody: of the whole intro.
    """
    waiting = {chord.onset: chord for chord in waiting_chords(scene.plan)}
    if not waiting:
        return list(notes)
    free = out_of_time_until(scene.plan)
    kept = [note for note in notes if note.part != COMP or note.harmony_tick not in waiting]
    for onset, chord in waiting.items():
        passage = scene.passage_at(onset)
        work = Work(scene, passage, voicings, (), tuple(melody))
        touch = Touch.ROLLED if onset < free or passage.texture == "rolled" else Touch.STRUCK
        unit = scene.unit_at(onset)
        kept += [work.sound(unit, at, (onset, chord.end), touch=touch) for at in work.voices(unit)]
    return kept


def gathered(scene: Scene, notes: Sequence[ScoreNote]) -> list[ScoreNote]:
    """The notes, with each waiting chord said at its beginning and rung to its end."""
    waiting = {chord.onset: chord for chord in waiting_chords(scene.plan)}
    if not waiting:
        return list(notes)
    alone = scene.seats.one_pair_of_hands
    notes = [note for note in notes if not _leads_over(note, waiting)]
    kept = [note for note in notes if note.harmony_tick not in waiting]
    for onset, chord in waiting.items():
        own = [note for note in notes if note.harmony_tick == onset]
        after_a_wait = any(other.end == onset for other in waiting.values())
        melody = sorted((note for note in own if note.part == MELODY), key=lambda note: note.onset)
        sung = _sung(chord, _taken_up(chord, melody) if after_a_wait else melody)
        taken = {note.string for note in sung if alone and note.onset == onset and note.string is not None}
        grip = _first(note for note in own if note.part == COMP and note.touch is not Touch.ORNAMENT)
        kept += [note._replace(onset=onset) for note in grip if note.string not in taken]
        kept += _low(scene, chord, own, before=[note for note in notes if note.onset < onset], grip=grip)
        kept += sung
    ended = (_ended(note, waiting, kept if alone else ()) for note in kept)
    return sorted(ended, key=lambda note: (note.onset, note.part, note.pitch))


def _leads_over(note: ScoreNote, waiting: dict[int, PlannedChord]) -> bool:
    """Whether an ornament leads into a waiting chord or out of it, where time stands still between."""
    if note.touch is not Touch.ORNAMENT:
        return False
    borders = (border for chord in waiting.values() for border in (chord.onset, chord.end))
    return any(note.onset < border <= note.end for border in borders)


def _sung(chord: PlannedChord, melody: Sequence[ScoreNote]) -> list[ScoreNote]:
    """The melody up to the last note that can rest on the chord; a note that is only repeated, once."""
    status = palette_of(chord).status
    said = list(melody)
    while said and (status[said[-1].pitch % 12] != Status.STABLE or said[-1].touch is Touch.ORNAMENT):
        said.pop()
    if len({note.pitch for note in said}) == 1:
        return [said[0]._replace(length=said[-1].end - said[0].onset)]
    return said


def _taken_up(chord: PlannedChord, melody: Sequence[ScoreNote]) -> list[ScoreNote]:
    """The melody from its beat on; of what would come before it or near it only the last, at full length."""
    near = [note for note in melody if note.onset < chord.onset + _NEAR]
    later = list(melody[len(near) :])
    if not near:
        return later
    note, onset = near[-1], max(near[-1].onset, chord.onset)
    end = min(max(note.end, onset + note.length), later[0].onset if later else chord.end)
    return [note._replace(onset=onset, length=end - onset), *later]


def _low(
    scene: Scene,
    chord: PlannedChord,
    own: Sequence[ScoreNote],
    *,
    before: Sequence[ScoreNote],
    grip: Sequence[ScoreNote],
) -> list[ScoreNote]:
    """The bass note, or the pedal point's, on the beat; where the bass had another one there, the chord's."""
    part, tone = (BASS, chord.chord.bass) if chord.pedal is None else (PEDAL, chord.pedal)
    low = sorted(note for note in own if note.part in (BASS, PEDAL) and note.touch is not Touch.ORNAMENT)
    right = [note for note in low if note.pitch % 12 == tone.pitch_class]
    if right:
        return [min(right, key=lambda note: note.pitch)._replace(onset=chord.onset)]
    if scene.seats.one_pair_of_hands:
        return [low[0]._replace(onset=chord.onset)] if low else []
    near = max((note for note in before if note.part in (BASS, PEDAL)), default=None)
    middle = near.pitch if near else USUAL_BASS
    highest = min((note.pitch for note in grip), default=USUAL_BASS + 12) - _UNDER_THE_GRIP
    places = places_of(tone.pitch_class, max(highest, LOWEST_BASS + 11))  # one at least
    pitch = min(places, key=lambda pitch: abs(pitch - middle))
    return [ScoreNote(chord.onset, chord.length, chord.onset, part, pitch)]


def _first(notes: Iterable[ScoreNote]) -> list[ScoreNote]:
    """What begins together first."""
    ordered = sorted(notes, key=lambda note: note.onset)
    return [note for note in ordered if note.onset == ordered[0].onset]


def _ended(note: ScoreNote, waiting: dict[int, PlannedChord], notes: Sequence[ScoreNote]) -> ScoreNote:
    """A note of a waiting chord rings to its end; no other lasts into one.

    On one guitar it rings until one of `notes` needs its string.
    """
    chord = waiting.get(note.harmony_tick)
    if chord is None:
        end = min((onset for onset in waiting if onset > note.onset), default=note.end)
        return note._replace(length=min(note.length, end - note.onset))
    if note.part == MELODY and note.end < chord.end:
        return note
    needed = (
        other.onset
        for other in notes
        if other.harmony_tick == note.harmony_tick
        and other.onset > note.onset
        and note.string is not None
        and other.string == note.string
    )
    return note._replace(length=min(needed, default=chord.end) - note.onset)
