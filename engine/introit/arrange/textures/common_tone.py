"""Common tone: one note stays on top through every chord that can bear it, and rings over the others."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from introit.arrange.comping.strokes import Stroke
from introit.arrange.plan import Plan, PlannedChord
from introit.arrange.scene import Passage, Scene
from introit.arrange.score import ScoreNote
from introit.arrange.textures.bearing import Change, bearing
from introit.arrange.textures.block import STAB, touch_of
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish

LOWEST, LOWEST_OVER_BASS = 62, 64
"""D4, and E4 where the bass note is in the same hand: the held note lies within the octave from here, over a
full grip (judgement, no source)."""
DEGREES = {False: ("1", "5", "3", "2", "6", "4", "7"), True: ("1", "5", "b3", "4", "2", "b7", "b6")}
"""Degrees of a major key and of a minor one, those first that are taken when several would do."""
NEAREST = (-1, 1, -2, 2, -3, 3)
"""Half steps from the held note to the one that takes its place on a chord that cannot bear it."""


@dataclass(frozen=True, slots=True)
class CommonTone:
    """Stroked; the held note sings, so no melody is written over it."""

    stroked: bool = True
    sings: bool = True
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """The held note on top, or the nearest one that the chord can bear, and room for it."""
        held = held_pitch(scene, scene.passages[scene.units[unit].passage])
        pitch, change = _nearest(scene.chord_of(unit), held)
        if pitch > plain.ceiling:
            return plain
        return plain._replace(
            ceiling=pitch,
            top=frozenset({pitch % 12}),
            without=change.without,
            with_=change.with_,
            lowest_top=pitch,
        )

    def notes(self, work: Work) -> list[ScoreNote]:
        """A whole grip on each stroke; but for stabs, the top note rings on until the next one."""
        notes: list[ScoreNote] = []
        for stroke, top_end in zip(work.strokes, _top_ends(work), strict=True):
            *lower, top = work.voices(stroke.unit)
            ends = {**dict.fromkeys(lower, stroke.end), top: top_end}
            touch = touch_of(work, stroke)
            notes += [
                work.sound(stroke.unit, voice, (stroke.onset, end), accent=stroke.accent, touch=touch)
                for voice, end in ends.items()
            ]
        return notes


def held_pitch(scene: Scene, passage: Passage) -> int:
    """The MIDI note that stays on top of a passage: its own degree, else the one most chords can bear."""
    lowest = LOWEST_OVER_BASS if scene.seats.one_pair_of_hands else LOWEST
    return lowest + (_held_class(_Same(scene.plan), passage) - lowest) % 12


class _Same:
    """A plan that is only equal to itself: comparing all its chords would take longer than the choice."""

    __slots__ = ("plan",)

    def __init__(self, plan: Plan) -> None:
        self.plan = plan

    def __hash__(self) -> int:
        return id(self.plan)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.plan is self.plan


@lru_cache(maxsize=16)
def _held_class(same: _Same, passage: Passage) -> int:
    plan = same.plan
    degrees = (passage.top,) if passage.top else DEGREES[plan.key.is_minor]
    chords = plan.chords[plan.at(passage.start) : plan.at(passage.end - 1) + 1]
    tables = [bearing(planned.chord, planned.pedal) for planned in chords]
    classes = [plan.key.degree_from_text(degree).pitch_class for degree in degrees]
    return max(classes, key=lambda pitch_class: sum(table[pitch_class] is not None for table in tables))


def _nearest(planned: PlannedChord, held: int) -> tuple[int, Change]:
    """The pitch on top of a chord, and what the chord changes for it."""
    table = bearing(planned.chord, planned.pedal)
    for step in (0, *NEAREST):
        change = table[(held + step) % 12]
        if change is not None:
            return held + step, change
    return held, Change()


def _top_ends(work: Work) -> list[int]:
    """For each stroke, until when its top note rings.

    Until the next one, over its chord's end where both chords have it. A stab is short in all its voices, and
    the pickup stays clear.
    """
    strokes, scene, pickup = work.strokes, work.scene, work.scene.plan.quiet_tick
    ends = [stroke.end for stroke in strokes]
    for index, (stroke, following) in enumerate(pairwise(strokes)):
        if stroke.end - stroke.onset > STAB:
            change = scene.chord_of(stroke.unit).end
            end = following.onset if _stays(work, stroke, following) else min(following.onset, change)
            ends[index] = max(stroke.end, min(end, pickup))
    return ends


def _stays(work: Work, stroke: Stroke, following: Stroke) -> bool:
    """Whether the top note of a stroke may ring into the next one's chord: both have it, by name too."""
    chord = work.scene.chord_of(following.unit).chord
    top = work.voicings[stroke.unit].top
    named = any(tone.pitch_class == top % 12 for tone in (*chord.required, *chord.optional))
    return named and work.voicings[following.unit].top == top
