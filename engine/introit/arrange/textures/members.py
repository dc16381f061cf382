"""The members of a chord that an upper line may use, and its triads. Pitch classes: 0 is C."""

from __future__ import annotations

from functools import lru_cache
from itertools import product

from introit.arrange.tones import MINOR_NINTHS, is_tonic_minor, offered
from introit.theory.chord import Chord
from introit.theory.limits import is_muddy
from introit.theory.quality import Family

WIDE_MINOR_NINTHS = MINOR_NINTHS - {1}
"""Semitones of a minor ninth and its octaves: forbidden between any two parts. A second is not."""

_MAJOR, _MINOR, _DIMINISHED, _AUGMENTED = (0, 4, 7), (0, 3, 7), (0, 3, 6), (0, 4, 8)
_DARK_FAMILIES = frozenset({Family.DIMINISHED, Family.HALF_DIMINISHED})

Triad = tuple[int, int, int]
"""Three pitch classes from the triad's own root up."""


@lru_cache(maxsize=4096)
def members(chord: Chord) -> tuple[int, ...]:
    """Pitch classes of the chord's tones and of the tensions on offer, rising.

    Without a tone a half step over the bass note, which no register makes good, unless it is a dominant's own
    b9; and without the eleventh of a tonic minor.
    """
    tones = (*chord.required, *offered(chord))
    own = {tone.pitch_class for tone in tones if not (tone.degree == 11 and is_tonic_minor(chord))}
    bass = chord.bass.pitch_class
    if not (chord.is_dominant and bass == chord.root.pitch_class):
        own.discard((bass + 1) % 12)
    return tuple(sorted(own))


@lru_cache(maxsize=4096)
def guides(chord: Chord) -> tuple[int, ...]:
    """Pitch classes of the third and the seventh, or of what stands for them."""
    return tuple(tone.pitch_class for tone in chord.guide_tones)


@lru_cache(maxsize=4096)
def rungs(pitch_classes: tuple[int, ...], low: int, high: int) -> tuple[int, ...]:
    """Every MIDI note from `low` to `high` on one of the pitch classes, rising."""
    return tuple(pitch for pitch in range(low, high + 1) if pitch % 12 in pitch_classes)


@lru_cache(maxsize=4096)
def triads(chord: Chord) -> tuple[tuple[Triad, ...], tuple[Triad, ...]]:
    """The triads that lie in a chord: its own, and those from above it, each the most telling first.

    Its own hold its third (or the fourth that stands for it), best with the seventh as well; the others hold
    a tension: upper structures.
    """
    inside = set(members(chord))
    shapes = [_MAJOR, _MINOR]
    guide = set(guides(chord))
    found = [
        _triad(root, shape)
        for root, shape in product(range(12), (*shapes, _DIMINISHED, _AUGMENTED))
        if set(_triad(root, shape)) <= inside and (shape in shapes or _suits(chord, root, shape))
    ]
    plain = _plain(chord)
    own = [triad for triad in found if guides(chord)[0] in triad and set(triad) <= plain]
    above = [triad for triad in found if triad not in own]
    return (
        tuple(sorted(own, key=lambda triad: (-len(guide & set(triad)), triad))),
        tuple(sorted(above, key=lambda triad: (-len(guide & set(triad)), triad))),
    )


def _triad(root: int, shape: tuple[int, int, int]) -> Triad:
    return (root + shape[0]) % 12, (root + shape[1]) % 12, (root + shape[2]) % 12


def _suits(chord: Chord, root: int, shape: tuple[int, int, int]) -> bool:
    """A diminished or augmented triad belongs only where the chord itself is heard so."""
    triad = set(_triad(root, shape))
    if shape == _DIMINISHED:
        return set(guides(chord)) <= triad or chord.kind.family in _DARK_FAMILIES
    raised = {(chord.root.pitch_class + 8) % 12, guides(chord)[0]}
    return chord.root.pitch_class in triad and raised <= triad


def _plain(chord: Chord) -> set[int]:
    """Its written tones and the plain fifth."""
    fifth = chord.tone("5")
    return {tone.pitch_class for tone in chord.required} | ({fifth.pitch_class} if fifth else set())


def rub(pitches: tuple[int, ...], *, free_root: int | None = None) -> bool:
    """True where two of the MIDI notes lie a minor ninth apart, or its octaves.

    Args:
        pitches: rising.
        free_root: pitch class of a dominant's root, over which its own b9 may lie; None for other chords.
    """
    return any(
        high - low in WIDE_MINOR_NINTHS and low % 12 != free_root
        for index, low in enumerate(pitches)
        for high in pitches[index + 1 :]
    )


def clean(pitches: tuple[int, ...], *, free_root: int | None = None) -> bool:
    """True where notes that sound together, rising, neither rub nor lie below their low-interval limits."""
    return not rub(pitches, free_root=free_root) and not is_muddy(pitches)


def free_root_of(chord: Chord) -> int | None:
    """Pitch class of a dominant's root; None for any other chord."""
    return chord.root.pitch_class if chord.is_dominant else None
