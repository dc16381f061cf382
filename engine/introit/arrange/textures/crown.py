"""The intro's highest note, where a texture's own lines bring it: which has it, and over what it rises.

The other lines are written first. The one that has the highest note then goes higher than all that they and
the comp sound, and comes to it where the peak of an intro belongs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from introit.arrange.arc import peak_span
from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.arrange.textures.texture import Work

PEAK_AT = 0.72
"""Where the highest note falls best, as a share of the intro (common practice, no source)."""
FEWEST_BARS = 4
"""A shorter intro has no room for an arc."""


class Crown(NamedTuple):
    """What is asked of the line with the highest note; hashable.

    Attributes:
        over: MIDI note that its highest note lies over.
        places: for each of its notes, whether the highest may first come there.
        chords: for each of its notes, the index of its chord: the highest comes in one of them only.
    """

    over: int
    places: tuple[bool, ...]
    chords: tuple[int, ...]

    def suits(self, pitches: Sequence[int]) -> bool:
        """Whether a line has its highest note where it may be, and over what it must; it may end early."""
        top = max(pitches)
        first = pitches.index(top)
        again = (chord for pitch, chord in zip(pitches, self.chords, strict=False) if pitch == top)
        return top > self.over and self.places[first] and all(chord == self.chords[first] for chord in again)


def crown_over(scene: Scene, onsets: Sequence[int], over: int, *, sure: Sequence[bool] = ()) -> Crown:
    """What is asked of a line with the highest note, by the onsets of its notes.

    Args:
        scene: where.
        onsets: ticks.
        over: the highest MIDI note of all that is heard beside it.
        sure: for each note, whether it stays in place whatever the hand must do; all of them when left out.
    """
    chords = tuple(scene.units[scene.unit_at(onset)].chord for onset in onsets)
    places = places_in(scene.plan, onsets)
    safe = tuple(place and stays for place, stays in zip(places, sure or places, strict=True))
    return Crown(over, safe if any(safe) else places, chords)


def crowned(scene: Scene, lines: Sequence[Sequence[int]]) -> int:
    """Which of the lines, given by their onsets, has the highest note; -1 where none is in place for it."""
    plan = scene.plan
    goal = PEAK_AT * plan.head_tick
    near = {
        number: min(abs(onset - goal) for onset in onsets)
        for number, onsets in enumerate(lines)
        if any(places_in(plan, onsets))
    }
    return min(near, key=near.__getitem__, default=-1)


def places_in(plan: Plan, onsets: Iterable[int]) -> tuple[bool, ...]:
    """Where the highest note of an intro may come: nowhere in one that is too short for an arc."""
    first, last = peak_span(plan)
    return tuple(plan.bars >= FEWEST_BARS and first <= onset <= last for onset in onsets)


def tops_beside(work: Work) -> list[int]:
    """The highest pitch of each voicing that the comp may sound, and the melody of the whole intro."""
    return [*(voicing.top for voicing in work.voicings), *(note.pitch for note in work.melody)]
