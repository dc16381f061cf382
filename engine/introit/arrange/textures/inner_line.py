"""Inner line: outer voices hold while inner ones move, to where the coming chord wants them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from introit.arrange.scene import Scene
from introit.arrange.score import COMP, ScoreNote
from introit.arrange.sung import ceiling_under, phrases_of, sounding_in
from introit.arrange.textures.inner_grip import Frame, grip_for
from introit.arrange.textures.inner_hand import Voice
from introit.arrange.textures.inner_moves import Move, held_chord, moves_on, tense_chords
from introit.arrange.textures.members import free_root_of
from introit.arrange.textures.room import BEAT, CLEAR_FLOOR, on_guitar, position_at, quiet_from
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish
from introit.theory.chord import Chord

_HIGHEST = 76
"""E5: the top of a grip that holds."""
_OWN = 1
"""Tensions in a grip whose line is one."""
_SHORTEST = 2 * BEAT
"""A chord shorter than two beats is held still."""


class _Part(NamedTuple):
    """What one unit plays: its line and the grip that bears it."""

    move: Move
    voices: tuple[Voice, ...]

    @property
    def position(self) -> int:
        """The lowest fret that it stops; 0 on keys."""
        stopped = [voice.places[0].fret for voice in self.voices if voice.places and voice.places[0].fret]
        return min(stopped, default=0)

    @property
    def top(self) -> int:
        """MIDI note of its highest voice."""
        return self.voices[-1].pitches[0]

    @property
    def arrival(self) -> int:
        """MIDI note that the coming chord must hold for the line to arrive; 0 for none."""
        if not self.move.falls:
            return 0
        line = next(voice for voice in self.voices if voice.moves)
        return line.pitches[-1] - self.move.falls


class _Before(NamedTuple):
    """Where the grip before a unit leads: the note to arrive on, the hand's fret, the top; 0 for none."""

    arrival: int = 0
    position: int = 0
    top: int = 0


@dataclass(frozen=True, slots=True)
class InnerLine:
    """Held grips with a line inside where the chords bear one."""

    stroked: bool = False
    sings: bool = False
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """On top, a tone that can hold while the line moves under it."""
        moves = moves_on(scene.chord_of(unit).chord, _coming(scene, unit), _named(scene, unit))
        stretch = scene.units[unit]
        if not moves or stretch.end - stretch.start < _SHORTEST or plain.over:
            return plain
        may = frozenset(moves[0].may)
        if not moves[0].spare or not _dominant_after(scene, unit):
            return plain._replace(top=may)
        # The grip that bears a thirteenth has no other tension: that is for the last dominant.
        return plain._replace(top=may.difference(moves[0].spare), tense=_OWN)

    def notes(self, work: Work) -> list[ScoreNote]:
        """One long note for each voice that holds, separate notes for those that move."""
        return [note for unit, part in _parts(work) for note in _written(work, unit, part)]


def tops_of_lines(work: Work) -> dict[int, int]:
    """For each unit with a grip of the line's own, the MIDI note of its top."""
    return {unit: part.top for unit, part in _parts(work) if part is not None}


def _parts(work: Work) -> list[tuple[int, _Part | None]]:
    """What each unit plays; None for the voicing as it was found, held."""
    parts: list[tuple[int, _Part | None]] = []
    before = _Before()
    for unit in work.units:
        part = _chosen(work, unit, before)
        if part:
            before = _Before(part.arrival, part.position, part.top)
        else:
            before = _Before(0, position_at(work, unit), work.voicings[unit].top)
        parts.append((unit, part))
    return parts


def _chosen(work: Work, unit: int, before: _Before) -> _Part | None:
    """The first line that the chord bears, and whose end the coming chord takes up."""
    for move in _moves(work, unit):
        part = _part(work, unit, move, before)
        if part is not None and _is_taken(work, unit, part):
            return part
    if not before.arrival or before.arrival in _comp_pitches(work, unit):
        return None
    tense = [part for move in _tense(work, unit) if (part := _part(work, unit, move, before))]
    if tense:
        return min(tense, key=lambda part: abs(part.top - before.top))
    return _part(work, unit, held_chord(work.scene.chord_of(unit).chord), before)


def _is_taken(work: Work, unit: int, part: _Part) -> bool:
    """Whether the coming chord can hold the note that a line arrives on."""
    coming, arrival = unit + 1, part.arrival
    if not arrival or coming == len(work.scene.units) or arrival in _comp_pitches(work, coming):
        return True
    if coming not in work.units:
        return False
    moves = (*_moves(work, coming), held_chord(work.scene.chord_of(coming).chord))
    before = _Before(arrival, part.position, part.top)
    return any(_part(work, coming, move, before) is not None for move in moves)


def _comp_pitches(work: Work, unit: int) -> set[int]:
    return {work.voicings[unit].pitches[voice] for voice in work.voices(unit)}


def _moves(work: Work, unit: int) -> tuple[Move, ...]:
    """The lines that a unit's chord bears, where it lasts long enough and changes after it.

    Where one is named the others follow it: one pair of hands may not reach it in every key.
    """
    scene = work.scene
    start, end = _span(work, unit)
    if end - start < _SHORTEST:
        return ()
    chord, following = scene.chord_of(unit).chord, _coming(scene, unit)
    moves = moves_on(chord, following, work.passage.moves)
    if moves and scene.seats.one_pair_of_hands:
        moves = tuple(dict.fromkeys((*moves, *moves_on(chord, following, None))))
    return tuple(move for move in moves if move.steps * BEAT <= end - start)


def _tense(work: Work, unit: int) -> tuple[Move, ...]:
    """The last dominant without a line, but with a tension; none for other chords."""
    scene = work.scene
    planned = scene.chord_of(unit)
    if not planned.chord.is_dominant or _dominant_after(scene, unit):
        return ()
    return tense_chords(planned.chord)


def _dominant_after(scene: Scene, unit: int) -> bool:
    """Whether a dominant follows a unit's chord."""
    onset = scene.chord_of(unit).onset
    return any(later.chord.is_dominant for later in scene.plan.chords if later.onset > onset)


def _named(scene: Scene, unit: int) -> str | None:
    return scene.passages[scene.units[unit].passage].moves


def _coming(scene: Scene, unit: int) -> Chord:
    return scene.chord_of(unit + 1).chord if unit + 1 < len(scene.units) else scene.plan.head


def _span(work: Work, unit: int) -> tuple[int, int]:
    stretch = work.scene.units[unit]
    return stretch.start, min(stretch.end, quiet_from(work.scene.plan))


def _part(work: Work, unit: int, move: Move, before: _Before) -> _Part | None:
    scene, voicing = work.scene, work.voicings[unit]
    chord, seats = scene.chord_of(unit).chord, scene.seats
    melody, (start, end) = work.melody, _span(work, unit)
    solo = seats.one_pair_of_hands
    frame = Frame(
        low=voicing.bottom + 1 if solo else max(seats.lowest, CLEAR_FLOOR),
        high=ceiling_under(melody, list(phrases_of(melody)), start, end, highest=_HIGHEST),
        over=sounding_in(melody, start, end),
        holding=before.arrival,
        top=voicing.top,
        bottom=voicing.pitches[int(solo)],
        bass=voicing.bottom if solo else 0,
        bass_place=voicing.places[0] if solo and voicing.places else None,
        positions=(before.position, position_at(work, unit)),
        before=before.top,
    )
    voices = grip_for(
        move,
        chord.root.pitch_class,
        free_root=free_root_of(chord),
        frame=frame,
        stage=scene.stage if on_guitar(work) else None,
    )
    return _Part(move, voices) if voices else None


def _written(work: Work, unit: int, part: _Part | None) -> list[ScoreNote]:
    start, end = _span(work, unit)
    if end <= start:
        return []
    if part is None:
        return [work.sound(unit, voice, (start, end)) for voice in work.voices(unit)]
    times = (*_onsets(start, end, part.move.steps), end)
    harmony = work.scene.chord_of(unit).onset
    notes: list[ScoreNote] = []
    for voice in part.voices[int(work.scene.seats.one_pair_of_hands) :]:
        if voice.moves:
            notes += [
                _note(voice, step, (times[step], times[step + 1]), harmony) for step in range(len(times) - 1)
            ]
        else:
            notes.append(_note(voice, 0, (start, end), harmony))
    return notes


def _onsets(start: int, end: int, steps: int) -> list[int]:
    """When each step begins: a second one in the second half, more a beat apart, so that the last arrives."""
    if steps == 1:
        return [start]
    beats = (end - start) // BEAT
    if steps == 2:
        return [start, start + (beats + 1) // 2 * BEAT]
    return [start, *(end - BEAT * left for left in range(steps - 1, 0, -1))]


def _note(voice: Voice, step: int, span: tuple[int, int], harmony: int) -> ScoreNote:
    note = ScoreNote(span[0], span[1] - span[0], harmony, COMP, voice.pitches[step])
    if not voice.places:
        return note
    place = voice.places[step]
    return note._replace(string=place.string, fret=place.fret, finger=voice.fingers[step])
