"""What a melody may sing over a chord: by pitch class, what rests, what must move on, and what rubs."""

from __future__ import annotations

from enum import IntEnum
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from introit.arrange.plan import PlannedChord
from introit.arrange.tones import is_tonic_minor, offered
from introit.theory.chord import Chord, ChordTone


class Status(IntEnum):
    """How a pitch stands to a chord."""

    STABLE = 0
    """A chord tone or a tension on offer: it may be held, and fall on a strong beat."""
    PASSING = 1
    """A tone of the chord-scale that is neither: short, and left by step."""
    CHROMATIC = 2
    """Outside the chord-scale: short, and left by a half step."""
    HARSH = 3
    """A minor ninth over the bass, the third or the seventh: [TP1]; a dominant's own b9 apart."""


# Prices of a held note by degree: guide tones and ninths first, roots last. Judgement, no source.
_PRICES = {3: 0.0, 7: 0.0, 9: 0.0, 2: 0.0, 13: 0.15, 6: 0.15, 11: 0.3, 4: 0.2, 5: 0.8, 1: 1.6}
_ALTERED = 0.35
"""Added for an altered tension: most of them belong to the last dominant, which has nothing else."""
_ELEVENTH_OF_TONIC_MINOR = 1.5
_OVER_A_COLOUR = 1.2
"""A note a half step over a colour of the chord, as a minor third is over the ninth."""
_OUT = 240.0
"""The price of what is forbidden: over all that a line can save by it."""
_CHROMATIC_PRICE = 0.2

_EVERY_PITCH = np.arange(128) % 12


class Palette(NamedTuple):
    """A chord as the melody sees it; arrays are by MIDI note.

    Attributes:
        status: `Status` of each pitch class.
        members: pitch classes of the chord's own tones: a motif that names one of them gets it.
        scale: pitch classes of the chord-scale.
        statuses: `status` by MIDI note.
        held: price of a note that is long, or lies on a strong beat.
        light: of a short one on the way to the next.
        approach: of a short one that leads by step into the next.
        leading: of the last one, which leads by step into the tune's first note.
    """

    status: tuple[int, ...]
    members: frozenset[int]
    scale: frozenset[int]
    statuses: NDArray[np.intp]
    held: NDArray[np.float64]
    light: NDArray[np.float64]
    approach: NDArray[np.float64]
    leading: NDArray[np.float64]


def palette_of(planned: PlannedChord) -> Palette:
    """The palette of a chord where it stands."""
    return _palette(planned.chord)


@lru_cache(maxsize=4096)
def _palette(chord: Chord) -> Palette:
    prices = _prices(chord)
    harsh = _harsh(chord)
    scale = frozenset(tone.pitch_class for tone in chord.scale)
    status = tuple(_status(pitch_class, prices, harsh, scale) for pitch_class in range(12))
    held = [prices.get(pitch_class, _OUT) if not status[pitch_class] else _OUT for pitch_class in range(12)]
    light = [(held[at] / 2, 0.15, _OUT, _OUT)[status[at]] for at in range(12)]
    approach = [(held[at] / 4, 0.0, _CHROMATIC_PRICE, _OUT)[status[at]] for at in range(12)]
    leading = [(held[at] / 4, 0.7, 1.5, _OUT)[status[at]] for at in range(12)]
    return Palette(
        status=status,
        members=frozenset(tone.pitch_class for tone in (*chord.required, *chord.optional)),
        scale=scale,
        statuses=np.array(status, dtype=np.intp)[_EVERY_PITCH],
        held=np.array(held)[_EVERY_PITCH],
        light=np.array(light)[_EVERY_PITCH],
        approach=np.array(approach)[_EVERY_PITCH],
        leading=np.array(leading)[_EVERY_PITCH],
    )


def _status(pitch_class: int, prices: dict[int, float], harsh: frozenset[int], scale: frozenset[int]) -> int:
    if pitch_class in harsh:
        return Status.HARSH
    if pitch_class in prices:
        return Status.STABLE
    return Status.PASSING if pitch_class in scale else Status.CHROMATIC


def _prices(chord: Chord) -> dict[int, float]:
    """What each tone that may be held costs the line."""
    third = any(tone.name == "3" for tone in chord.required)
    required = {tone.pitch_class for tone in chord.required}
    prices: dict[int, float] = {}
    for tone in (*offered(chord), *chord.required):
        if third and tone.name in {"4", "11"}:
            continue  # an eleventh over a major third: [AN] table 1
        price = _PRICES.get(tone.degree, 1.0) + _ALTERED * _is_altered(tone)
        price += _ELEVENTH_OF_TONIC_MINOR * (tone.degree == 11 and is_tonic_minor(chord))
        price += _OVER_A_COLOUR * ((tone.pitch_class - 1) % 12 in required and tone.name != "b9")
        prices[tone.pitch_class] = price + _OUT * _beside_flat_thirteen(tone, chord)
    return prices


def _is_altered(tone: ChordTone) -> bool:
    return tone.name in {"b9", "#9", "#11", "b13"}


def _beside_flat_thirteen(tone: ChordTone, chord: Chord) -> bool:
    """True for the plain fifth of a dominant whose scale has a b13: a line has one of them."""
    flat = (chord.root.pitch_class + 8) % 12
    return tone.name == "5" and chord.is_dominant and any(one.pitch_class == flat for one in chord.scale)


def _harsh(chord: Chord) -> frozenset[int]:
    """Pitch classes a half step over the bass, the root or a guide tone, a dominant's own b9 apart."""
    root, bass = chord.root.pitch_class, chord.bass.pitch_class
    under = {tone.pitch_class for tone in chord.guide_tones} | {bass}
    if not chord.is_dominant:
        under.add(root)
    harsh = {(pitch_class + 1) % 12 for pitch_class in under}
    if chord.is_dominant and bass == root:
        harsh.discard((root + 1) % 12)
    return frozenset(harsh)
