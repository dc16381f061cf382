"""Comping voicings of a chord worth weighing: three or four voices, close or drop 2."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np

from introit.arrange.voicing.cost import REGISTER, Pitches, Table, nearness, presence, static_cost
from introit.arrange.voicing.material import Material
from introit.theory.limits import is_muddy

VOICES = 4
LOWEST, HIGHEST = REGISTER.start, REGISTER.stop - 1
"""The comp's register; `comp_floor` raises its low end so that no bass note makes it muddy."""
BASS_LOWEST, BASS_HIGHEST = 28, 55
"""E1 to G3: the practical walking range (TRADE 4, memory)."""
MOST_CANDIDATES = 40
"""Kept per chord, cheapest first: enough for smooth paths, few enough for a fast search."""
_MISSING_COLOUR = 4.0
_THIN = 0.4
_UNROOTED, _UNROOTED_DOMINANT = 3.0, 1.0
_FAMILIAR = 4.0

Grip = tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """The candidates for one chord.

    Attributes:
        grips: n tuples of MIDI notes, rising.
        pitches: (n, 4) the same; a grip of three has its top twice.
        price: (n,) what each costs by itself.
        voices, guides, near, top: the tables that `cost.movement_cost` reads.
    """

    grips: tuple[Grip, ...]
    pitches: Pitches
    price: Table
    voices: Table
    guides: Table
    near: Table
    top: Table


@lru_cache(maxsize=1)
def comp_floor() -> int:
    """Lowest comp note at and above which no bass note of the usual register is muddy under it."""
    bass = range(BASS_LOWEST, BASS_HIGHEST + 1)
    muddy = (
        low for low in range(LOWEST, HIGHEST) if any(is_muddy([note, low]) for note in bass if note < low)
    )
    return max(muddy, default=LOWEST - 1) + 1


@lru_cache(maxsize=4096)
def candidates_for(material: Material, ceiling: int) -> Candidates:
    """All candidates for a chord's material whose top voice is at most `ceiling` (a MIDI note).

    Falls back to fewer tones, down to the guide tones alone, rather than to none.
    """
    priced: dict[Grip, float] = {}
    for tones, price in _tone_sets(material):
        for grip in _placements(tones, ceiling):
            if _is_clean(grip, material):
                total = price + static_cost(grip, material)
                priced[grip] = min(total, priced.get(grip, total))
    best = sorted(priced.items(), key=lambda item: (item[1], item[0]))[:MOST_CANDIDATES]
    return _packed(best, material)


def _tone_sets(material: Material) -> Iterator[tuple[tuple[int, ...], float]]:
    """Pitch-class sets with their prices: guide tones, the named colours, then the cheapest of the rest."""
    guides = material.guides[:VOICES]
    room = VOICES - len(guides)
    for count in range(min(room, len(material.colours)), -1, -1):
        missing = (min(len(material.colours), room) - count) * _MISSING_COLOUR
        for colours in combinations(material.colours, count):
            dull = _FAMILIAR * (bool(material.familiar) and material.familiar == set(colours))
            yield from _filled((*guides, *colours), material, price=missing + dull)


def _filled(
    tones: tuple[int, ...], material: Material, *, price: float
) -> Iterator[tuple[tuple[int, ...], float]]:
    free = VOICES - len(tones)
    for count in range(free + 1):
        if len(tones) + count < VOICES - 1:
            continue
        for fill in combinations(material.fillers, count):
            thin = _THIN * (free - count)
            chosen = (*tones, *(pitch_class for pitch_class, _ in fill))
            rootless = material.root not in chosen and material.bass != material.root
            if not material.has_two_fifths(chosen):
                unrooted = _UNROOTED_DOMINANT if material.flat_nine else _UNROOTED
                yield chosen, price + thin + sum(cost for _, cost in fill) + unrooted * rootless


def _placements(tones: Iterable[int], ceiling: int) -> Iterator[Grip]:
    """Close positions and their drop 2 (second voice from the top an octave down; TRADE 4, [DV1])."""
    classes = sorted(set(tones))
    for turn in range(len(classes)):
        rotated = [*classes[turn:], *(pitch_class + 12 for pitch_class in classes[:turn])]
        shapes = [rotated]
        if len(rotated) == VOICES:
            shapes.append(sorted([rotated[0], rotated[1], rotated[2] - 12, rotated[3]]))
        for shape in shapes:
            yield from _octaves(shape, ceiling)


def _octaves(shape: list[int], ceiling: int) -> Iterator[Grip]:
    for octave in range(0, 120, 12):
        grip = tuple(pitch + octave for pitch in shape)
        if grip[0] >= comp_floor() and grip[-1] <= min(ceiling, HIGHEST):
            yield grip


def _is_clean(grip: Grip, material: Material) -> bool:
    """No mud, and no minor ninth between voices but a dominant's own flat nine over its root."""
    for low, high in combinations(grip, 2):
        if high - low in (13, 25) and not (material.flat_nine and low % 12 == material.root):
            return False
    return not is_muddy(grip)


def _packed(best: list[tuple[Grip, float]], material: Material) -> Candidates:
    grips = tuple(grip for grip, _ in best)
    # A grip of three voices counts its top twice, so that grips of three and four compare.
    padded = [(*grip, *(grip[-1:] * (VOICES - len(grip)))) for grip in grips]
    pitches = np.array(padded, dtype=np.int64).reshape(len(grips), VOICES)
    guides = [[pitch for pitch in grip if pitch % 12 in material.guides] for grip in grips]
    return Candidates(
        grips=grips,
        pitches=pitches,
        price=np.array([price for _, price in best], dtype=np.float64),
        voices=presence(pitches),
        guides=presence(np.array(guides, dtype=np.int64).reshape(len(grips), -1)),
        near=nearness(pitches),
        top=pitches[:, -1].astype(np.float64),
    )
