"""Two-hand: a low shell on the change, a line that rises in pairs over it, and the bass answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from random import Random

from introit.arrange.scene import Scene
from introit.arrange.score import BASS, COMP, MELODY, ScoreNote
from introit.arrange.textures.bass_answer import CENTRE, LOWEST, answer_into, root_under
from introit.arrange.textures.crown import crowned, tops_beside
from introit.arrange.textures.gestures import Gesture, gestures_of
from introit.arrange.textures.members import guides
from introit.arrange.textures.neck import Held, walked
from introit.arrange.textures.rising_pairs import Pair, rising
from introit.arrange.textures.room import (
    BELOW_PEAK,
    EIGHTH,
    Span,
    clear_of_bass,
    on_guitar,
    position_at,
    quiet_from,
    reach_of,
    set_up,
    sounded,
)
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish

_SHELL_FLOOR, _SHELL_CEILING = 51, 63
"""Eb3 and Eb4: low, and wide enough for any third with its seventh, one way or the other up, where the
seventh may not lie low over the bass."""
_LAST_CEILING = 70
_SHELL_VOICES = 3
_LINE_FLOOR = 57
_GOAL, _PEAK = 76, 79
"""E5 and G5: where a line ends at most, and where the highest of them does."""


@dataclass(frozen=True, slots=True)
class TwoHand:
    """As if one hand played low and one high; one or two bars a gesture."""

    stroked: bool = False
    sings: bool = True
    brings_bass: bool = True

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """A shell, low; the intro's last chord has its tensions."""
        floor = plain.floor if plain.bass_in_grip else max(plain.floor, _SHELL_FLOOR)
        if unit == len(scene.units) - 1:
            return clear_of_bass(plain)._replace(ceiling=min(plain.ceiling, _LAST_CEILING))
        ceiling = min(plain.ceiling, _SHELL_CEILING)
        return plain._replace(families=("shell",), floor=floor, ceiling=ceiling, most_voices=_SHELL_VOICES)

    def notes(self, work: Work) -> list[ScoreNote]:
        """Shells, lines, and the bass."""
        hands = _Hands(work)
        gestures = list(gestures_of(work))
        hands.find_lines(gestures)
        for gesture in gestures:
            hands.play(gesture)
        hands.set_up()
        return hands.finished()


class _Hands:
    """Both hands at work on one passage."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self.lines: dict[int, tuple[Pair, ...]] = {}
        self.notes: list[ScoreNote] = []
        self.bass: list[ScoreNote] = []
        self.dice: Random = work.scene.dice("two-hand", work.passage.start)
        solo = work.scene.seats.one_pair_of_hands
        self.lowest = work.scene.stage.fretboard.open_pitches[0] if solo else LOWEST
        self.shells = {unit: self._shell(unit) for unit in work.units}
        self.roots = self._roots()

    def _roots(self) -> dict[int, int]:
        """The bass note of each unit, near to the one before; a pedal point's for the thumb alone."""
        work, roots = self.work, dict[int, int]()
        near = CENTRE
        for unit, voices in self.shells.items():
            planned = work.scene.chord_of(unit)
            if work.scene.seats.one_pair_of_hands:
                roots[unit] = work.voicings[unit].bottom
                continue
            if planned.pedal is not None:
                continue
            shell = tuple(work.voicings[unit].pitches[voice] for voice in voices)
            near = roots[unit] = root_under(planned.chord, shell, near=near)
        return roots

    def _shell(self, unit: int) -> list[int]:
        """Voices of a unit's voicing that are its shell: root and guide tones, three at most."""
        work, chord = self.work, self.work.scene.chord_of(unit).chord
        if unit == len(work.scene.units) - 1:
            return list(work.voices(unit))
        kept = {chord.root.pitch_class, *guides(chord)}
        voices = list(work.voices(unit))
        pitches = work.voicings[unit].pitches
        shell = [voice for voice in voices if pitches[voice] % 12 in kept][:_SHELL_VOICES]
        return shell if len(shell) > 1 else voices[:_SHELL_VOICES]

    def play(self, gesture: Gesture) -> None:
        """One gesture: the shells and roots of its units, its line, its answer."""
        work, quiet = self.work, quiet_from(self.work.scene.plan)
        stated = set(gesture.line)
        line_ends = gesture.line_end if gesture.line else gesture.end
        for unit in gesture.units:
            start, end = work.scene.units[unit].start, min(work.scene.units[unit].end, quiet)
            if end <= start:
                continue
            if start not in stated:
                release = self._release(gesture, start, line_ends)
                self._strike(unit, (start, min(end, release)))
            if unit in self.roots and (self._is_free(unit) or not start % work.scene.plan.bar_ticks):
                self._root(unit, (start, end))
        if gesture.line:
            self._line(gesture)
        if gesture.answer:
            self._answer(gesture)

    def _is_free(self, unit: int) -> bool:
        """Whether no pedal point lies under a unit."""
        return self.work.scene.chord_of(unit).pedal is None

    def _release(self, gesture: Gesture, start: int, line_ends: int) -> int:
        """Where a shell ends: before the answer; keys hold it under the line, a hand on a neck cannot."""
        if line_ends <= start or not gesture.line:
            return next((onset for onset in gesture.answer if onset > start), gesture.end)
        if not on_guitar(self.work):
            return line_ends
        wait = gesture.line[0] - start
        return gesture.line[0] - EIGHTH * (wait > EIGHTH)

    def _strike(self, unit: int, span: Span, *, accent: bool = False) -> None:
        self.notes += [self.work.sound(unit, voice, span, accent=accent) for voice in self.shells[unit]]

    def _root(self, unit: int, span: Span) -> None:
        if self.work.scene.seats.one_pair_of_hands:
            self.bass.append(self.work.sound(unit, 0, span, part=BASS))
        else:
            harmony = self.work.scene.chord_of(unit).onset
            self.bass.append(sounded(self.roots[unit], span, harmony=harmony, part=BASS))

    def find_lines(self, gestures: Sequence[Gesture]) -> None:
        """The pairs of each gesture's line; of the one with the intro's highest note, over all the others."""
        sung = [gesture for gesture in gestures if gesture.line]
        peak = crowned(self.work.scene, [gesture.line[-1:] for gesture in sung])
        over = max(tops_beside(self.work))
        for number, gesture in enumerate(sung):
            if number != peak:
                pairs = self.lines[gesture.start] = self._pairs(gesture)
                over = max([over, *(high for _, high in pairs)])
        if peak >= 0:
            crown = sung[peak]
            self.lines[crown.start] = self._pairs(crown, over=over) or self._pairs(crown)

    def _pairs(self, gesture: Gesture, *, over: int = 0) -> tuple[Pair, ...]:
        scene, first = self.work.scene, gesture.units[0]
        units = [scene.unit_at(onset) for onset in gesture.line]
        below = [self.work.voicings[first].pitches[voice] for voice in self.shells[first]]
        held = tuple(sorted({*below, *(self.roots[unit] for unit in gesture.units if unit in self.roots)}))
        stretches = tuple((scene.chord_of(unit).chord, len(list(group))) for unit, group in groupby(units))
        reached = reach_of(self.work, first, _PEAK)  # on a guitar, what the hand reaches
        goal = max(reached, over + 1) if over else min(_GOAL, reached - BELOW_PEAK)
        return rising(stretches, held, floor=max(_LINE_FLOOR, max(below) + 1), goal=goal, over=over)

    def _line(self, gesture: Gesture) -> None:
        scene, pairs = self.work.scene, self.lines[gesture.start]
        units = [scene.unit_at(onset) for onset in gesture.line]
        way: tuple[Held | None, ...] = (None,) * len(pairs)
        if on_guitar(self.work):
            way = walked(scene.stage, pairs, position_at(self.work, gesture.units[0]))
        ends = [*gesture.line[1:], gesture.line_end]
        for onset, end, unit, pair, grip in zip(gesture.line, ends, units, pairs, way, strict=False):
            harmony = scene.chord_of(unit).onset
            for index, part in enumerate((COMP, MELODY)):
                self.notes.append(
                    sounded(pair[index], (onset, end), harmony=harmony, part=part, held=grip, index=index)
                )

    def _answer(self, gesture: Gesture) -> None:
        """One to three notes into the next root; none over a pedal point."""
        scene, last, onsets = self.work.scene, gesture.units[-1], gesture.answer
        if last not in self.roots or not self._is_free(last):
            return
        planned = scene.chord_of(last)
        target = self.roots.get(last + 1)
        if target is None:
            following = scene.chord_of(last + 1).chord if last + 1 < len(scene.units) else scene.plan.head
            target = root_under(following, (), near=self.roots[last], lowest=self.lowest)
        upwards = self.dice.random() < 0.5
        before = self.roots[last]
        pitches = answer_into(planned.chord, before, target, len(onsets), upwards=upwards, lowest=self.lowest)
        way: tuple[Held | None, ...] = (None,) * len(pitches)
        if scene.seats.one_pair_of_hands:
            way = walked(scene.stage, [(pitch,) for pitch in pitches], position_at(self.work, last))
        ends = [*onsets[1:], gesture.end]
        for onset, end, pitch, grip in zip(onsets, ends, pitches, way, strict=True):
            self.bass.append(sounded(pitch, (onset, end), harmony=planned.onset, part=BASS, held=grip))

    def set_up(self) -> None:
        """The last shell once more, short, to set up the head."""
        span = set_up(self.work)
        if span is not None:
            self.notes = [
                note._replace(length=min(note.end, span[0]) - note.onset) if note.onset < span[0] else note
                for note in self.notes
            ]
            self._strike(len(self.work.scene.units) - 1, span, accent=True)

    def finished(self) -> list[ScoreNote]:
        """All notes; the bass's each ended where the next begins."""
        bass = sorted(self.bass)
        thumb_waits = self.work.scene.seats.one_pair_of_hands
        lines = sorted(note.onset for note in self.notes if note.part == MELODY)
        for index, note in enumerate(bass):
            ends = [note.end, *(later.onset for later in bass[index + 1 : index + 2])]
            if thumb_waits and note.fret:  # an open string needs no finger under the line
                ends += [onset for onset in lines if onset > note.onset][:1]
            bass[index] = note._replace(length=max(EIGHTH // 2, min(ends) - note.onset))
        return [*self.notes, *bass]
