"""Block and rolled: all voices of the grip on each comping hit."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice

from introit.arrange.comping.strokes import Stroke
from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote, Touch
from introit.arrange.sung import UNDER_MELODY
from introit.arrange.textures.texture import Work
from introit.arrange.tones import MINOR_NINTHS
from introit.arrange.voicing.wish import Wish
from introit.theory.plucking import PLUCKING_FINGERS, Plucking
from introit.units import TICKS_PER_QUARTER, ticks_from_ms

ROLL_BEFORE_MS = 500.0
"""From the stroke before to a rolled one at least: the roll begins before its beat (judgement, no source)."""
ROLL_HELD_MS = 900.0
"""How long a rolled grip sounds at least: the slowest roll, four strings at 70 ms (common practice, no
source), is a quarter of it."""

STAB = 3 * TICKS_PER_QUARTER // 4
"""Ticks: a stroke that is no longer is a stab, short in all its voices (judgement, no source)."""


@dataclass(frozen=True, slots=True)
class Block:
    """All voices together."""

    stroked: bool = True
    sings: bool = False
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """Nothing of its own."""
        return plain

    def notes(self, work: Work) -> list[ScoreNote]:
        """A whole grip on each stroke."""
        return [note for stroke in work.strokes for note in grip(work, stroke, touch_of(work, stroke))]


@dataclass(frozen=True, slots=True)
class Rolled:
    """All voices from the lowest string up, held until the next stroke, where there is time; else a block.

    A stab is a block as well: it is short on purpose. What rings is let go where a melody comes into its
    place, or would rub.
    """

    stroked: bool = True
    sings: bool = False
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """Nothing of its own."""
        return plain

    def notes(self, work: Work) -> list[ScoreNote]:
        """A whole grip on each stroke."""
        tempo = work.scene.plan.tempo
        before, held = ticks_from_ms(ROLL_BEFORE_MS, tempo), ticks_from_ms(ROLL_HELD_MS, tempo)
        notes: list[ScoreNote] = []
        last = -before
        for stroke, end in zip(work.strokes, _held_until(work), strict=True):
            room = stroke.onset - last >= before and end - stroke.onset >= held
            room &= stroke.end - stroke.onset > STAB
            touch = Touch.ROLLED if room else touch_of(work, stroke)
            notes += grip(work, stroke, touch, end=end if room else stroke.end)
            last = stroke.onset
        return notes


def grip(work: Work, stroke: Stroke, touch: Touch, *, end: int | None = None) -> list[ScoreNote]:
    """All of a stroke's voices.

    Args:
        work: the passage.
        stroke: when, and of which unit.
        touch: how they are sounded.
        end: tick at which they end; the stroke's own when left out.
    """
    span = (stroke.onset, end or stroke.end)
    return [
        work.sound(stroke.unit, voice, span, accent=stroke.accent, touch=touch)
        for voice in work.voices(stroke.unit)
    ]


def touch_of(work: Work, stroke: Stroke) -> Touch:
    """Plucked on a guitar played with the fingers, as many as there are fingers for; else struck."""
    scene = work.scene
    fingers = scene.seats.comp_on == "guitar" and scene.stage.plucking is Plucking.FINGERS
    few = len(work.voicings[stroke.unit].pitches) <= PLUCKING_FINGERS
    return Touch.PLUCKED if fingers and few and not stroke.accent else Touch.STRUCK


def _held_until(work: Work) -> list[int]:
    """For each stroke the next one's onset or its chord's end, whichever comes first; no pickup's beats.

    A melody note that comes in when the stroke itself is over, and that the grip does not lie clear under,
    ends it before.
    """
    following = [*(stroke.onset for stroke in work.strokes[1:]), work.passage.end]
    pickup = work.scene.plan.quiet_tick
    return [
        max(stroke.end, min(onset, work.scene.chord_of(stroke.unit).end, pickup, *_covered(work, stroke)))
        for stroke, onset in zip(work.strokes, following, strict=False)
    ]


def _covered(work: Work, stroke: Stroke) -> list[int]:
    """Where the first melody note after a stroke comes in that its grip would cover, or rub against."""
    pitches = work.voicings[stroke.unit].pitches
    onsets = (
        note.onset
        for note in work.melody
        if note.onset >= stroke.end
        and (
            note.pitch - pitches[-1] < UNDER_MELODY
            or any(note.pitch - low in MINOR_NINTHS for low in pitches)
        )
    )
    return list(islice(onsets, 1))
