"""Notes that ring on: each until it is struck again, or its chord gives way."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from introit.arrange.score import ScoreNote, Touch
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish

FLOOR, ROOM = 53, 16
"""F3, under which nothing rings while a bass player moves below it; and the half steps up to the ceiling for
which that floor gives way (judgement, no source)."""


class Pick(NamedTuple):
    """Voices of one grip that are plucked together.

    Attributes:
        onset: tick.
        unit: index of the unit.
        voices: indices into its voicing's pitches.
    """

    onset: int
    unit: int
    voices: tuple[int, ...]


def ringing_floor(plain: Wish) -> int:
    """The floor of a grip that rings on: clear of a bass that moves, where there is room for that."""
    return plain.floor if plain.bass_in_grip else max(plain.floor, min(FLOOR, plain.ceiling - ROOM))


def ring_ends(work: Work) -> dict[int, int]:
    """Tick until which the grip of each of the passage's units may ring.

    The chord's end, as long as the hand stays: a new grip for the same chord ends the old one. The pickup's
    beats stay clear, but for a chord that begins in them.
    """
    scene, pickup = work.scene, work.scene.plan.pickup_tick
    ends: dict[int, int] = {}
    for index in reversed(work.units):
        unit = scene.units[index]
        held = index + 1 in ends and _same_grip(work, index)
        end = ends[index + 1] if held else unit.end
        ends[index] = min(end, pickup) if unit.start < pickup else end
    return ends


def _same_grip(work: Work, index: int) -> bool:
    """Whether the next unit goes on with the chord and the grip of this one."""
    units, voicings = work.scene.units, work.voicings
    return units[index].chord == units[index + 1].chord and voicings[index] == voicings[index + 1]


def ringing(work: Work, picks: Sequence[Pick]) -> list[ScoreNote]:
    """The notes of the picks, each ringing on until its pitch is struck again or its grip is let go.

    Args:
        work: the passage.
        picks: ordered by onset.
    """
    ends, again = ring_ends(work), dict[int, int]()
    notes: list[ScoreNote] = []
    for onset, unit, voices in reversed(picks):
        for voice in voices:
            pitch = work.voicings[unit].pitches[voice]
            end = min(ends[unit], again.get(pitch, ends[unit]))
            again[pitch] = onset
            notes.append(work.sound(unit, voice, (onset, end), touch=Touch.PLUCKED))
    return notes[::-1]
