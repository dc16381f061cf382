"""The bass of a texture that brings its own: a root on the change, and one to three notes that answer."""

from __future__ import annotations

from functools import lru_cache

from introit.arrange.textures.members import clean, free_root_of, members
from introit.theory.chord import Chord

LOWEST, HIGHEST = 28, 50
"""E1 to D3: the bass register, for the most part (from memory)."""
CENTRE = 38
_FIFTH = 7
_FARTHEST = 5
"""Semitones from note to note of an answer, at most."""
_HALF_STEP, _WHOLE_STEP = 1, 2


@lru_cache(maxsize=8192)
def root_under(chord: Chord, shell: tuple[int, ...], *, near: int = CENTRE, lowest: int = LOWEST) -> int:
    """The chord's bass note under a shell: clean with it and a fifth below it, where it can be.

    Args:
        chord: the chord.
        shell: MIDI notes held above, rising; may be empty.
        near: MIDI note that it stays near.
        lowest: lowest MIDI note of the instrument.
    """
    free = free_root_of(chord)

    def price(pitch: int) -> tuple[bool, bool, float]:
        foul = bool(shell) and not clean((pitch, *(each for each in shell if each > pitch)), free_root=free)
        return foul, bool(shell) and shell[0] - pitch < _FIFTH, abs(pitch - near) + abs(pitch - CENTRE)

    first = lowest + (chord.bass.pitch_class - lowest) % 12
    return min(range(first, HIGHEST + 1, 12) or (first,), key=price)


@lru_cache(maxsize=8192)
def answer_into(
    chord: Chord, before: int, target: int, count: int, *, upwards: bool, lowest: int = LOWEST
) -> tuple[int, ...]:
    """One to three bass notes that lead one way, by step at the end, into the note that comes.

    Args:
        chord: the chord that sounds.
        before: MIDI note of its root, which has sounded.
        target: MIDI note of the coming root.
        count: 1 to 3.
        upwards: whether they rise into it, where there is room.
        lowest: lowest MIDI note of the instrument.

    Returns:
        The notes in order, none equal to its neighbour or the target, nor to the root where there is room.
    """
    scale = {tone.pitch_class for tone in chord.scale}
    top = max(HIGHEST, target + _FARTHEST)
    lines = [
        _line(chord, target, count, way=way, step=step)
        for way in ((1, -1) if upwards else (-1, 1))
        for step in sorted(
            (_HALF_STEP, _WHOLE_STEP), key=lambda step: (target - way * step) % 12 not in scale
        )
    ]
    inside = [line for line in lines if lowest <= min(line) and max(line) <= top]
    return next((line for line in inside if line[0] != before), (*inside, *lines)[0])


def _line(chord: Chord, target: int, count: int, *, way: int, step: int) -> tuple[int, ...]:
    """A line by step into the target, before that through the chord's members."""
    line = [target - way * step]
    while len(line) < count:
        further = [line[0] - way * far for far in range(1, _FARTHEST + 1)]
        line.insert(0, next((pitch for pitch in further if pitch % 12 in members(chord)), further[1]))
    return tuple(line)
