"""Room for a bass note under a voicing: the low-interval limits hold across parts."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from introit.theory.limits import too_low

LOWEST_BASS, HIGHEST_BASS = 28, 50
"""E1 to D3: where a bass player's roots lie (from memory)."""
FIFTH = 7


@lru_cache(maxsize=1)
def _muddy() -> npt.NDArray[np.bool_]:
    """(bass, voice): whether the two lie too low together, or nearer than a fifth.

    The last of the voices stands for one that is not there.
    """
    table = np.zeros((HIGHEST_BASS + 1, 129), dtype=np.bool_)
    for bass in range(LOWEST_BASS, HIGHEST_BASS + 1):
        for voice in range(128):
            table[bass, voice] = voice < bass + FIFTH or too_low(bass, voice)
    return table


def over_a_bass(pitches: npt.NDArray[np.int64], pitch_class: int) -> npt.NDArray[np.bool_]:
    """Which voicings leave a bass player some octave for the note under them.

    Args:
        pitches: (n, v) MIDI notes; below zero for a voice that is not there.
        pitch_class: of the bass note, 0 to 11.
    """
    muddy = _muddy()
    voices = np.where(pitches < 0, 128, pitches)
    first = LOWEST_BASS + (pitch_class - LOWEST_BASS) % 12
    octaves = range(first, HIGHEST_BASS + 1, 12)
    clear = [~muddy[bass][voices].any(axis=1) for bass in octaves]
    room: npt.NDArray[np.bool_] = np.logical_or.reduce(clear)
    return room
