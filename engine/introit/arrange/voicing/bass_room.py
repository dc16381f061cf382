"""Room for a bass note under a voicing: the low-interval limits hold across parts."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from introit.theory.limits import too_low

LOWEST_BASS, HIGHEST_BASS = 28, 50
"""E1 to D3: where a bass player's roots lie (from memory)."""
HIGHEST_USUAL_BASS = 45
"""A2: up to there a bass player mostly plays a chord's bass note (common practice, no source)."""
USUAL_BASS = 40
"""E2: where a bass note lies by preference when none came before it (judgement, no source)."""
FIFTH = 7
MUD, OFTEN_MUD = 2.0, 3.0
"""A voice that lies too low over the bass note in one of its usual places, and over it in all of them
(judgement, no source)."""


def places_of(pitch_class: int, highest: int = HIGHEST_BASS) -> range:
    """The MIDI notes on which a bass player has a pitch class, up to a highest one."""
    return range(LOWEST_BASS + (pitch_class - LOWEST_BASS) % 12, highest + 1, 12)


@lru_cache(maxsize=1)
def _too_low() -> npt.NDArray[np.bool_]:
    """(bass, voice): whether the two lie too low together; the last voice is for one that is not there."""
    table = np.zeros((HIGHEST_BASS + 1, 129), dtype=np.bool_)
    for bass in range(LOWEST_BASS, HIGHEST_BASS + 1):
        table[bass, :128] = [too_low(bass, voice) for voice in range(128)]
    return table


@lru_cache(maxsize=1)
def _muddy() -> npt.NDArray[np.bool_]:
    """The same table, for what leaves no room: too low together, or nearer than a fifth."""
    near = np.arange(129) < np.arange(HIGHEST_BASS + 1)[:, None] + FIFTH
    near[:, 128] = False
    muddy: npt.NDArray[np.bool_] = _too_low() | near
    return muddy


@lru_cache(maxsize=12)
def mud_over(pitch_class: int) -> npt.NDArray[np.float64]:
    """(129,) what each MIDI note costs as a voice over a bass note; the last is for no voice.

    Args:
        pitch_class: of the bass note, 0 to 11.
    """
    low = _too_low()[places_of(pitch_class, HIGHEST_USUAL_BASS)]
    return np.select([low.all(axis=0), low.any(axis=0)], [OFTEN_MUD, MUD], 0.0)


def over_a_bass(pitches: npt.NDArray[np.int64 | np.int16], pitch_class: int) -> npt.NDArray[np.bool_]:
    """Which voicings leave a bass player some octave for the note under them.

    Args:
        pitches: (n, v) MIDI notes; below zero for a voice that is not there.
        pitch_class: of the bass note, 0 to 11.
    """
    muddy = _muddy()
    voices = np.where(pitches < 0, 128, pitches)
    clear = [~muddy[bass][voices].any(axis=1) for bass in places_of(pitch_class)]
    room: npt.NDArray[np.bool_] = np.logical_or.reduce(clear)
    return room
