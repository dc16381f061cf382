"""A score: notes at exact ticks, each knowing its part and its harmony; no swing, no levels yet."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple

from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.performance import PARTS

MELODY, COMP, BASS, PEDAL, RIDE, CLICK, CUE = range(len(PARTS))


class Touch(IntEnum):
    """How the notes that begin together in one part are sounded."""

    STRUCK = 0
    """Across the strings, as the feel has it."""
    ROLLED = 1
    """Slowly from the lowest string up, ending on the beat."""
    PLUCKED = 2
    """With the fingers, all but at once."""
    ORNAMENT = 3
    """A grace note, or a grip slid in from a half step: before the beat, short and soft."""


class ScoreNote(NamedTuple):
    """One written note.

    Attributes:
        onset: tick from the intro's first downbeat.
        length: ticks, over 0.
        harmony_tick: onset of the chord it belongs to; the coming chord's for a pushed note.
        part: index into `performance.PARTS`.
        pitch: MIDI note number.
        accent: True when it is played harder.
        touch: how it is sounded with the notes of its part that begin with it.
        string, fret, finger: where it lies on the neck; None when it is not a guitar's, or not placed.
    """

    onset: int
    length: int
    harmony_tick: int
    part: int
    pitch: int
    accent: bool = False
    touch: Touch = Touch.STRUCK
    string: int | None = None
    fret: int | None = None
    finger: int | None = None

    @property
    def end(self) -> int:
        """Tick at which the note ends."""
        return self.onset + self.length


@dataclass(frozen=True, slots=True)
class Score:
    """A scene with its notes, ordered by (onset, part, pitch)."""

    scene: Scene
    notes: tuple[ScoreNote, ...]

    @property
    def plan(self) -> Plan:
        """The scene's plan."""
        return self.scene.plan
