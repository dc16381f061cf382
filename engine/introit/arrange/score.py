"""A score: notes at exact ticks, each knowing its part and its harmony; no swing, no levels yet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from introit.arrange.plan import Plan
from introit.performance import PARTS

MELODY, COMP, BASS, PEDAL, RIDE, CLICK = range(len(PARTS))


class ScoreNote(NamedTuple):
    """One written note.

    Attributes:
        onset: tick from the intro's first downbeat.
        length: ticks, over 0.
        harmony_tick: onset of the chord it belongs to; the coming chord's for a pushed note.
        part: index into `performance.PARTS`.
        pitch: MIDI note number.
        accent: True when it is played harder.
        string, fret, finger: where it lies on the neck; None when it is not a guitar's, or not placed.
    """

    onset: int
    length: int
    harmony_tick: int
    part: int
    pitch: int
    accent: bool = False
    string: int | None = None
    fret: int | None = None
    finger: int | None = None

    @property
    def end(self) -> int:
        """Tick at which the note ends."""
        return self.onset + self.length


@dataclass(frozen=True, slots=True)
class Score:
    """A plan with its notes, ordered by (onset, part, pitch)."""

    plan: Plan
    notes: tuple[ScoreNote, ...]
