"""What a comping voicing of one chord is made of: tones it must have, and others with their prices.

Root and fifth are dropped first (TRADE 4, [FJ]). The root is left out where the bass plays it ([RL], [Ke02])
and kept where the bass plays something else, or the chord could not be told.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from introit.arrange.plan import PlannedChord
from introit.arrange.tones import is_tonic_minor, offered
from introit.theory.chord import Chord, ChordTone
from introit.theory.quality import Family

# Prices of tones that nothing asks for; a voicing is filled with the cheapest first. Judgement, no source.
_ROOT = 2.5
_ROOT_OF_PLAIN_CHORD = 0.6
"""Diminished chords and triads have little else, and their tensions say much."""
_FIFTH = 0.2
_FIFTH_BESIDE_SIXTH = 2.0
_TENSION = 0.3
_LATER_TENSION = 0.25
"""Added for each tension that is more usual on the chord."""
_TENSION_OF_PLAIN_CHORD = 3.0
_ELEVENTH_OF_TONIC_MINOR = 5.0
_OVER_FOREIGN_BASS = {"root": 0.0, "fifth": 0.1, "tension": 4.0}
"""Over a slash bass or a pedal point the chord has to be told from the comp alone."""
_GUIDE_IN_BASS = 0.3


class Material(NamedTuple):
    """Pitch classes for a voicing; hashable, so that candidates are found once.

    Attributes:
        guides: guide tones; in every voicing, unless the bass has one as its slash note.
        colours: tones the chord's name asks for beside root, plain fifth and guide tones.
        fillers: (pitch class, price) of the rest, cheapest first.
        root: the root's pitch class.
        bass: pitch class under the voicing: the root, a slash bass or the pedal point.
        flat_nine: True for a dominant, whose own b9 may lie a minor ninth over its root.
        familiar: for `alt`, the b9 with the b13, which alone are no more than a plain dominant of minor.
    """

    guides: tuple[int, ...]
    colours: tuple[int, ...]
    fillers: tuple[tuple[int, float], ...]
    root: int
    bass: int
    flat_nine: bool
    familiar: frozenset[int] = frozenset()

    def has_two_fifths(self, pitch_classes: Iterable[int]) -> bool:
        """True for a dominant with its fifth and its b13 at once: the b13 drops the fifth."""
        above_root = {(pitch_class - self.root) % 12 for pitch_class in pitch_classes}
        return self.flat_nine and {7, 8} <= above_root


def material_of(planned: PlannedChord, *, beside: Iterable[int] = ()) -> Material:
    """The material for a planned chord, with its pedal point taken into account.

    Args:
        planned: the chord.
        beside: pitch classes of a riff on it; a fifth among them keeps the b13 out of a dominant.
    """
    chord = planned.chord
    bass = (planned.pedal or chord.bass).pitch_class
    root = chord.root.pitch_class
    in_bass = None if bass == root else bass
    guides = tuple(tone.pitch_class for tone in chord.guide_tones if tone.pitch_class != in_bass)
    named = (
        chord.optional if chord.quality == "7alt" else chord.required
    )  # `alt` asks for any two alterations
    colours = [tone.pitch_class for tone in named if _is_colour(tone)]
    colours = list(dict.fromkeys(colour for colour in colours if colour not in guides and colour != bass))
    prices = _prices(chord, bass)
    taken = {*guides, *colours}
    if chord.is_dominant and (root + 7) % 12 in beside:
        taken.add((root + 8) % 12)
    fillers = sorted(
        (price, pitch_class) for pitch_class, price in prices.items() if pitch_class not in taken
    )
    return Material(
        guides=guides,
        colours=tuple(colours),
        fillers=tuple((pitch_class, price) for price, pitch_class in fillers),
        root=root,
        bass=bass,
        flat_nine=chord.is_dominant,
        familiar=frozenset({(root + 1) % 12, (root + 8) % 12} if chord.quality == "7alt" else ()),
    )


def _prices(chord: Chord, bass: int) -> dict[int, float]:
    """Price of each tone by pitch class; the first tone on a pitch class gives it."""
    prices: dict[int, float] = {}
    tensions = 0
    foreign = bass != chord.root.pitch_class
    for tone in (*chord.required, *offered(chord)):
        kind = _kind(tone, chord)
        price = _price(kind, chord, foreign=foreign, rank=tensions)
        if tone.degree == 11 and kind == "tension" and is_tonic_minor(chord):
            price = max(price, _ELEVENTH_OF_TONIC_MINOR)
        prices.setdefault(tone.pitch_class, price)
        tensions += kind == "tension"
    return prices


def _kind(tone: ChordTone, chord: Chord) -> str:
    if tone in chord.required and _is_colour(tone):
        return "guide"
    return {1: "root", 5: "fifth"}.get(tone.degree, "tension")


def _price(kind: str, chord: Chord, *, foreign: bool, rank: int) -> float:
    if kind == "guide":
        return _GUIDE_IN_BASS
    if foreign:
        return _OVER_FOREIGN_BASS[kind]
    if kind == "root":
        return _ROOT_OF_PLAIN_CHORD if _is_plain(chord) or _is_open(chord) else _ROOT
    if kind == "fifth":
        return _FIFTH_BESIDE_SIXTH if any(tone.degree == 13 for tone in chord.required) else _FIFTH
    return _TENSION_OF_PLAIN_CHORD if _is_plain(chord) else _TENSION + _LATER_TENSION * rank


def _is_plain(chord: Chord) -> bool:
    """True for triads and for diminished and half-diminished chords."""
    return len(chord.guide_tones) < 2 or chord.kind.family in {Family.DIMINISHED, Family.HALF_DIMINISHED}


def _is_open(chord: Chord) -> bool:
    """True for a suspended chord that has only its root and fifth beside its guide tones."""
    only = all(tone.degree in {1, 5} for tone in offered(chord))
    return chord.kind.family is Family.SUSPENDED and only and len(chord.required) == 3


def _is_colour(tone: ChordTone) -> bool:
    return tone.degree != 1 and not (tone.degree == 5 and tone.alter == 0)
