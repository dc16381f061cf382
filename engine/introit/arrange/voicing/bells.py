"""Bell grips of a chord: four or five notes with a closed second among them, plucked two at a time to ring.

On a guitar the second lies across two neighbouring strings; on keys it is part of a close position. All
prices are judgement, no source, in the bare numbers of `cost`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import combinations, pairwise

import numpy as np
import numpy.typing as npt

from introit.arrange.tones import MINOR_NINTHS
from introit.arrange.voicing.bell_shapes import COUNTS, Shapes, shapes
from introit.arrange.voicing.material import UNTOLD, Material
from introit.arrange.voicing.voicing import Voicing
from introit.arrange.voicing.wish import Wish
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard
from introit.theory.grip import SILENT, Grip
from introit.theory.holding import hand_on
from introit.theory.limits import LOW_INTERVAL_LIMITS

MOST_CANDIDATES = 40
MOST_TRIED = 90
"""Grips that the hand is asked about, cheapest first."""
SAME_NOTES = 2
"""Places on the neck kept for the same notes: the hand may be where it likes."""

CENTRE = 64.0
"""E4: bells lie a little higher than a comp, where seconds are clear."""
FAR_FROM_CENTRE = 0.12
HIGH_BASS, HIGHEST_FREE_BASS = 0.25, 52
"""For each half step over E3 that the thumb's note lies, where the grip holds the bass."""
MISSING_COLOUR = 4.0
FAMILIAR = 4.0
DOUBLED = 1.2
FIFTH_VOICE = 0.3
SEMITONE_ON_TOP, SEMITONE_BELOW, HARSH_SEMITONE = 2.5, 2.0, 2.5
CLUSTER = 1.5
WIDE_GAP, WIDEST_FREE_GAP = 0.5, 8
STRINGS_APART = 0.25
"""For each pair of neighbouring notes, each string past the next that parts them."""
OPEN_STRING = -0.3
LOW_TOP = 4.0
"""Each semitone that the top of a peak lies too low, as in any other grip."""
HAND = 0.6
"""What one unit of the hand's own cost is worth."""

Prices = npt.NDArray[np.float64]
Chosen = npt.NDArray[np.bool_]
Ranked = tuple[float, tuple[int, ...], tuple[int, ...]]
"""Price, pitches rising, and frets from the lowest string; no frets on keys."""

_LIMITS = np.array([LOW_INTERVAL_LIMITS.get(interval, 0) for interval in range(128)])


@lru_cache(maxsize=8192)
def bell_candidates(material: Material, wish: Wish, neck: Fretboard | None) -> list[tuple[Voicing, float]]:
    """Bell grips for a chord with their prices, cheapest first; at most 40.

    Every one has the guide tones, is clear of low-interval limits and minor ninths, and can be held.
    It is the same list for the same arguments: not to be changed.

    Args:
        material: the chord's.
        wish: where it stands; `open_strings` says which open strings may ring.
        neck: the guitar's; None on keys.

    Returns:
        Voicings of family `bell`; none where the chord has no such grip within the wish.
    """
    counts = [count for count in COUNTS if count <= max(COUNTS[0], wish.most_voices)]
    if neck is None:
        tables = [_close_positions(_allowed(material, wish), wish)]
    else:
        tables = [shapes(neck, count, wish.open_strings) for count in counts]
    ranked = sorted(one for table in tables for one in _ranked(table, material, wish))
    if neck is None:
        return [(Voicing(pitches, "bell"), price) for price, pitches, _ in ranked[:MOST_CANDIDATES]]
    return _held(ranked, neck)


def _close_positions(allowed: frozenset[int], wish: Wish) -> Shapes:
    """On keys: four notes within an octave, two of them a step apart."""
    rows = [
        pitches
        for four in combinations(sorted(allowed), COUNTS[0])
        for turn in range(COUNTS[0])
        for pitches in _octaves([*four[turn:], *(low + 12 for low in four[:turn])], wish)
        if any(high - low <= 2 for low, high in pairwise(pitches))
    ]
    table = np.array(rows, dtype=np.int16).reshape(-1, COUNTS[0])
    classes = np.bitwise_or.reduce(1 << (table % 12), axis=1).astype(np.int16)
    zeros = np.zeros(len(table), dtype=np.int16)
    return Shapes(frets=zeros[:, None][:, :0], pitches=table, classes=classes, apart=zeros, second=zeros)


def _octaves(shape: list[int], wish: Wish) -> Iterator[list[int]]:
    first = -(-(wish.floor - shape[0]) // 12) * 12
    for up in range(first, wish.ceiling - shape[-1] + 1, 12):
        yield [pitch + up for pitch in shape]


def _ranked(table: Shapes, material: Material, wish: Wish) -> Iterator[Ranked]:
    fitting = _fitting(table, material, wish)
    prices = _prices(fitting, material, wish)
    yield from zip(
        prices.tolist(),
        map(tuple, fitting.pitches.tolist()),
        map(tuple, fitting.frets.tolist()),
        strict=True,
    )


def _allowed(material: Material, wish: Wish) -> frozenset[int]:
    own = {*material.guides, *material.colours, *(pitch_class for pitch_class, _ in material.fillers)}
    bass = {material.bass} if wish.bass_in_grip else set()
    return frozenset((own | bass | wish.with_) - wish.without)


def _fitting(table: Shapes, material: Material, wish: Wish) -> Shapes:
    """The grips that are the chord, and that do what the wish asks."""
    needed = _bits(set(material.guides) - wish.without)
    table = table.of(
        ((table.classes & ~_bits(_allowed(material, wish))) == 0) & ((table.classes & needed) == needed)
    )
    pitches = table.pitches
    good: Chosen = (pitches[:, 0] >= wish.floor) & (pitches[:, -1] <= wish.ceiling)
    if wish.adjacent:
        good &= table.apart == 0
    if wish.top:
        good &= np.isin(pitches[:, -1] % 12, list(wish.top))
    if wish.bass_in_grip:
        good &= (pitches[:, 0] % 12 == material.bass) & (table.second > pitches[:, 0])
    if wish.over:
        good &= ~np.isin(pitches, [note - apart for note in wish.over for apart in MINOR_NINTHS]).any(axis=1)
    if material.flat_nine:
        two_fifths = _bits({(material.root + 7) % 12, (material.root + 8) % 12})
        good &= (table.classes & two_fifths) != two_fifths
    for one, other in combinations(range(pitches.shape[1]), 2):
        good &= pitches[:, one] >= _LIMITS[pitches[:, other] - pitches[:, one]]
    return table.of(good)


def _prices(table: Shapes, material: Material, wish: Wish) -> Prices:
    """What each grip costs, before the hand is asked."""
    pitches, count = table.pitches, table.pitches.shape[1]
    gaps = np.diff(pitches, axis=1)
    price: Prices = _price_of_tones(table, material, wish) + FIFTH_VOICE * (count - COUNTS[0])
    if material.telling is not None and material.telling not in wish.without:
        price += UNTOLD * ((table.classes & _bits({material.telling})) == 0)
    upper = gaps[:, int(wish.bass_in_grip) :]
    price += HIGH_BASS * np.maximum(0, pitches[:, 0] - HIGHEST_FREE_BASS) * wish.bass_in_grip
    price += FAR_FROM_CENTRE * np.abs(pitches[:, int(wish.bass_in_grip) :].mean(axis=1) - CENTRE)
    price += WIDE_GAP * np.maximum(0, upper - WIDEST_FREE_GAP).sum(axis=1)
    price += CLUSTER * ((gaps[:, :-1] <= 2) & (gaps[:, 1:] <= 2)).sum(axis=1)
    price += SEMITONE_ON_TOP * (gaps[:, -1] == 1) + SEMITONE_BELOW * (gaps[:, 0] == 1)
    above_root = (pitches[:, :-1] - material.root) % 12
    harsh = (above_root == 0) | ((above_root == 3) & material.flat_nine)
    price += HARSH_SEMITONE * (harsh & (gaps == 1)).sum(axis=1)
    price += OPEN_STRING * (table.frets == 0).sum(axis=1) + STRINGS_APART * table.apart
    if not wish.top:  # with a tone on top, only grips that have it are here
        price += LOW_TOP * np.maximum(0, wish.lowest_top - pitches[:, -1])
    return price


def _price_of_tones(table: Shapes, material: Material, wish: Wish) -> Prices:
    has = (table.classes[:, None] >> np.arange(12)) & 1
    colours = list({*material.colours, *wish.with_} - wish.without)
    tone = np.zeros(12)
    for pitch_class, cost in material.fillers:
        tone[pitch_class] = cost
    tone[[*colours, *([material.bass] if wish.bass_in_grip else [])]] = 0.0
    count = table.pitches.shape[1]
    price: Prices = has @ tone + DOUBLED * (count - has.sum(axis=1))
    price += MISSING_COLOUR * (min(len(colours), COUNTS[0] - len(material.guides)) - _sum(has, colours)).clip(
        0
    )
    if material.familiar:
        dark = list(material.familiar)
        price += FAMILIAR * ((_sum(has, dark) == len(dark)) & (_sum(has, colours) == len(dark)))
    return price


def _sum(has: npt.NDArray[np.signedinteger], classes: list[int]) -> npt.NDArray[np.signedinteger]:
    total: npt.NDArray[np.signedinteger] = has[:, classes].sum(axis=1)
    return total


def _held(ranked: Iterable[Ranked], neck: Fretboard) -> list[tuple[Voicing, float]]:
    """The cheapest grips that the hand can hold, with what they cost it."""
    hand, seen, tried = hand_on(neck), Counter[tuple[int, ...]](), 0
    found: list[tuple[Voicing, float]] = []
    for price, pitches, frets in ranked:
        if seen[pitches] == SAME_NOTES:
            continue
        if len(found) == MOST_CANDIDATES or tried == MOST_TRIED:
            break
        tried += 1
        fingering = hand.hold(Grip(frets))
        if isinstance(fingering, Fingering):
            seen[pitches] += 1
            found.append((_voicing(fingering, neck), price + HAND * fingering.cost))
    return sorted(found, key=lambda one: one[1])


def _voicing(fingering: Fingering, neck: Fretboard) -> Voicing:
    """A fingering as a voicing, its notes in the order of their pitch."""
    places = fingering.grip.places
    fingers = [finger for finger in fingering.fingers if finger != SILENT]
    notes = sorted((neck.pitch(*place), place, finger) for place, finger in zip(places, fingers, strict=True))
    pitches, in_order, by = zip(*notes, strict=True)
    return Voicing(pitches, "bell", in_order, by)


def _bits(classes: Iterable[int]) -> int:
    return sum(1 << pitch_class for pitch_class in classes)
