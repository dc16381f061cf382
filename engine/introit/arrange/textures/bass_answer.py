"""The bass of a texture that brings its own: a root on the change, and one to three notes that answer."""

from __future__ import annotations

from functools import lru_cache

from introit.arrange.textures.members import clean, free_root_of, members
from introit.theory.chord import Chord

LOWEST, HIGHEST = 28, 50
"""E1 to D3: the bass register, for the most part (TRADE 4, memory)."""
CENTRE = 38
_FIFTH = 7
_FAR = 7
"""Semitones: the answer keeps within a fifth of the note that it leads to."""
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
    return min(range(first, HIGHEST + 1, 12), key=price)


@lru_cache(maxsize=8192)
def answer_into(
    chord: Chord, target: int, count: int, *, upwards: bool, lowest: int = LOWEST
) -> tuple[int, ...]:
    """One to three bass notes that lead one way, by step at the end, into the note that comes.

    Args:
        chord: the chord that sounds.
        target: MIDI note of the coming root.
        count: 1 to 3.
        upwards: whether they rise into it.
        lowest: lowest MIDI note of the instrument.

    Returns:
        The notes in order, none equal to its neighbour or to the target.
    """
    way = 1 if upwards else -1
    if (not upwards and target + _WHOLE_STEP + count > HIGHEST) or (upwards and target - _FAR < lowest):
        way = -way
    inside = members(chord)
    scale = {tone.pitch_class for tone in chord.scale}
    last = target - way * (_WHOLE_STEP if (target - way * _WHOLE_STEP) % 12 in scale else _HALF_STEP)
    line = [last]
    while len(line) < count:
        further = [line[0] - way * step for step in range(1, 6)]
        line.insert(0, next((pitch for pitch in further if pitch % 12 in inside), further[1]))
    return tuple(line)
