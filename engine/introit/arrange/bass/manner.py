"""The bass: a manner laid over the plan, or the pedal point where the plan has one."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from introit.arrange.bass.path import Choice, cheapest_line
from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.arrange.score import BASS, PEDAL, ScoreNote
from introit.arrange.tones import MINOR_NINTHS, offered
from introit.library.model import BassManner
from introit.theory.chord import Chord
from introit.units import TICKS_PER_QUARTER, ticks

LOWEST, HIGHEST = 28, 55
"""E1 to G3, the practical walking range (TRADE 4, memory)."""
_USUAL_HIGHEST = 50
_CENTRE = 38
_ROOT_AGAIN = 1.5
_FAR_SCALE_STEP = 0.9
_AVOIDED = 1.0
_STRANGE_HALF_STEP = 0.3
_OTHER_THIRD = 1.5
_UNDER_MINOR_NINTH = 3.0
_SHORTEST = TICKS_PER_QUARTER // 2
_LEADS_NOWHERE = 3.0
_PEDAL_LOWEST = 33
_STRONG_BEATS = {3: [0], 4: [0, 2], 5: [0, 3]}
_PEDAL_FAST = 200.0
"""Above this tempo the pedal point is struck once a bar."""


class _Step(NamedTuple):
    onset: int
    length: int
    tone: str
    chord: int


def bass_notes(
    scene: Scene, manners: Sequence[BassManner | None], *, above: Sequence[ScoreNote] = ()
) -> list[ScoreNote]:
    """The bass line: the root (or slash bass) where a chord begins, the manner's tones between, and smooth.

    Silent under a pedal point. The last note lies a step, fourth or fifth from the head's root.

    Args:
        scene: where.
        manners: one for each passage, its bar repeated; None where the bass is silent.
        above: comp and melody; where it can, the bass keeps from lying a minor ninth under them.
    """
    plan = scene.plan
    steps = _steps(scene, manners)
    if not steps:
        return []
    walking = any(step.tone == "approach" for step in steps)
    targets = [
        *(plan.chords[step.chord].chord.bass.pitch_class for step in steps[1:]),
        plan.head.bass.pitch_class,
    ]
    choices = [
        _under(above, step, chord=plan.chords[step.chord].chord, target=target)
        for step, target in zip(steps, targets, strict=True)
    ]
    if steps[-1].onset + steps[-1].length >= plan.head_tick:
        choices[-1] = _leading(choices[-1], plan)
    into_next = [step.tone == "approach" for step in steps]
    pitches = cheapest_line(
        choices, goal=_octaves(plan.head.bass.pitch_class), approaches=into_next, walking=walking
    )
    return [
        ScoreNote(step.onset, _length_under(above, step, pitch), plan.chords[step.chord].onset, BASS, pitch)
        for step, pitch in zip(steps, pitches, strict=True)
    ]


def pedal_notes(plan: Plan) -> list[ScoreNote]:
    """The pedal point: its note low in the bass register, on the strong beats; once a bar at fast tempi."""
    notes: list[ScoreNote] = []
    onsets = _pedal_onsets(plan)
    for onset, following in zip(onsets, [*onsets[1:], plan.head_tick], strict=True):
        planned = plan.chords[plan.at(onset)]
        if planned.pedal is not None:
            pitch = _PEDAL_LOWEST + (planned.pedal.pitch_class - _PEDAL_LOWEST) % 12
            end = min(following, _pedal_end(plan, onset))
            notes.append(
                ScoreNote(onset, end - onset, planned.onset, PEDAL, pitch, accent=not onset % plan.bar_ticks)
            )
    return notes


def _steps(scene: Scene, manners: Sequence[BassManner | None]) -> list[_Step]:
    """Where the bass plays and what, with the pedal's stretches and silent passages left out."""
    plan = scene.plan
    tones = _written_tones(scene, manners)
    onsets = sorted(tones)
    steps: list[_Step] = []
    for onset, following in zip(onsets, [*onsets[1:], plan.head_tick], strict=True):
        chord = plan.at(onset)
        tone, length = tones[onset]
        end = min(onset + length, following, _free_until(plan, chord))
        if plan.chords[chord].pedal is None:
            steps.append(_Step(onset, end - onset, tone, chord))
    return _into_changes(plan, steps) if any(step.tone == "approach" for step in steps) else steps


def _written_tones(scene: Scene, manners: Sequence[BassManner | None]) -> dict[int, tuple[str, int]]:
    """Tick -> (tone, length): the manner in every bar, and a root wherever a chord begins."""
    plan = scene.plan
    tones: dict[int, tuple[str, int]] = {}
    for passage, manner in zip(scene.passages, manners, strict=True):
        if manner is None:
            continue
        for bar in range(passage.start, passage.end, plan.bar_ticks):
            for step in manner.steps:
                tones[bar + ticks(step.position)] = step.tone, ticks(step.length)
        for planned in plan.chords:
            if passage.start <= planned.onset < passage.end:
                _, length = tones.get(planned.onset, ("root", planned.length))
                tones[planned.onset] = ("root", length)
    return tones


def _into_changes(plan: Plan, steps: list[_Step]) -> list[_Step]:
    """A walking line approaches every chord change, also those inside the bar (TRADE 6, [BW1], [BW2])."""
    following = [*(step.chord for step in steps[1:]), len(plan.chords)][: len(steps)]
    return [
        step._replace(tone="approach")
        if after != step.chord and step.onset != plan.chords[step.chord].onset
        else step
        for step, after in zip(steps, following, strict=True)
    ]


def _free_until(plan: Plan, chord: int) -> int:
    """Tick at which a pedal point begins after a chord, or the head."""
    later = (planned.onset for planned in plan.chords[chord + 1 :] if planned.pedal is not None)
    return next(later, plan.head_tick)


def _choices(chord: Chord, tone: str, *, target: int) -> Choice:
    """Pitches and prices for one step of the manner over a chord; `target` is the next step's root."""
    bass = chord.bass.pitch_class
    if chord.bass != chord.root and tone != "approach":
        return _octaves(bass)  # a slash bass is the point of the chord: nothing else will do below it
    if tone == "approach":
        return _approaches(chord, target)
    priced = _TONES.get(tone, ())
    found = {bass: _ROOT_AGAIN if priced else 0.0}
    for degree, price in priced:
        member = chord.tone(degree)
        if member is not None:
            found[member.tone.pitch_class] = price
    if tone == "scale":
        found |= {member.pitch_class: 0.3 for member in chord.scale if member.pitch_class not in found}
    return {
        pitch: price + cost
        for pitch_class, cost in found.items()
        for pitch, price in _octaves(pitch_class).items()
    }


# Chord members for each word of a manner, with prices; the root is always there as a last resort.
_TONES: dict[str, tuple[tuple[str, float], ...]] = {
    "fifth": (("5", 0.0),),
    "third": (("3", 0.0),),
    "chord": (("3", 0.0), ("5", 0.0), ("7", 0.3)),
    "scale": (("3", 0.2), ("5", 0.2), ("7", 0.2)),
}


def _approaches(chord: Chord, target: int) -> Choice:
    """A half step above or below the target, or a whole step that the chord's scale has (TRADE 6, [BW3]).

    A half step that is a chord tone is best: the b5 of a half-diminished two over the root of the five, the
    third of the five under the root of the one ([BW6]). The chord's other third would say major under a minor
    chord, or minor under a major one.
    """
    scale = {member.pitch_class for member in chord.scale}
    members = {tone.pitch_class for tone in (*chord.required, *offered(chord))}
    half_steps = ((target + step) % 12 for step in (1, -1))
    classes = {pitch: _STRANGE_HALF_STEP * (pitch not in members) for pitch in half_steps}
    classes |= {(target + step) % 12: _FAR_SCALE_STEP for step in (2, -2) if (target + step) % 12 in scale}
    for tone in chord.avoid:
        if tone.pitch_class in classes:
            classes[tone.pitch_class] += _AVOIDED
    other_third = _other_third(chord)
    if other_third in classes and other_third not in members:
        classes[other_third] += _OTHER_THIRD
    return {
        pitch: price + cost
        for pitch_class, cost in classes.items()
        for pitch, price in _octaves(pitch_class).items()
    }


def _other_third(chord: Chord) -> int | None:
    """Pitch class of the major third under a minor chord, of the minor third under a major one."""
    third = next((tone for tone in chord.required if tone.degree == 3), None)
    return None if third is None else (third.pitch_class + (1 if third.alter else -1)) % 12


def _leading(choices: Choice, plan: Plan) -> Choice:
    """The last step's choices; dearer, the dominant's own root and steps into the head's root."""
    chord = plan.chords[-1].chord
    spare = _octaves(chord.bass.pitch_class) | _approaches(chord, plan.head.bass.pitch_class)
    return {pitch: price + _LEADS_NOWHERE for pitch, price in spare.items()} | choices


def _under(above: Sequence[ScoreNote], step: _Step, *, chord: Chord, target: int) -> Choice:
    """The choices for a step, dearer where a note above lies a minor ninth over them.

    The chord's own bass note is never dearer: over a dominant's root its b9 belongs there.
    """
    end = step.onset + step.length
    rubs = {(note.pitch - 1) % 12 for note in above if note.onset < end and step.onset < note.end}
    rubs.discard(chord.bass.pitch_class)
    choices = _choices(chord, step.tone, target=target)
    return {pitch: price + _UNDER_MINOR_NINTH * (pitch % 12 in rubs) for pitch, price in choices.items()}


def _length_under(above: Sequence[ScoreNote], step: _Step, pitch: int) -> int:
    """A step's length; let go early where the comp takes the coming chord a minor ninth over the note."""
    end = step.onset + step.length
    pushed = (
        note.onset - step.onset
        for note in above
        if step.onset + _SHORTEST <= note.onset < end <= note.harmony_tick
        and note.pitch - pitch in MINOR_NINTHS
    )
    return min(pushed, default=step.length)


def _octaves(pitch_class: int) -> Choice:
    """A pitch class in every octave of the register, dearer away from its middle and above D3."""
    first = LOWEST + (pitch_class - LOWEST) % 12
    return {
        pitch: 0.05 * abs(pitch - _CENTRE)
        + 0.4 * max(0, pitch - 45)
        + (4.0 if pitch > _USUAL_HIGHEST else 0.0)
        for pitch in range(first, HIGHEST + 1, 12)
    }


def _pedal_onsets(plan: Plan) -> list[int]:
    beats = [0] if plan.tempo > _PEDAL_FAST else _STRONG_BEATS[plan.meter.beats]
    bars = {bar * plan.bar_ticks + beat * TICKS_PER_QUARTER for bar in range(plan.bars) for beat in beats}
    begins = {now.onset for before, now in pairwise(plan.chords) if now.pedal != before.pedal}
    return sorted(bars | begins)


def _pedal_end(plan: Plan, onset: int) -> int:
    """Tick at which the pedal point that sounds at `onset` is released."""
    later = (planned.onset for planned in plan.chords if planned.onset > onset and planned.pedal is None)
    return next(later, plan.head_tick)
