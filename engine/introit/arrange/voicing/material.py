"""What a comping voicing of one chord is made of: tones it must have, tones it may have and their price.

Root and fifth are dropped first (TRADE 4, [FJ]). The root is left out where the bass plays it ([RL], [Ke02])
and kept where the bass plays something else, or the chord could not be told.
"""

from __future__ import annotations

from typing import NamedTuple

from introit.arrange.plan import PlannedChord
from introit.theory.chord import Chord, ChordTone

# Price of an unforced tone by degree; a voicing is filled with the cheapest ones first. Judgement, no source.
_FILL_PRICE = {1: 1.6, 3: 0.6, 5: 0.5, 7: 0.6, 9: 0.2, 13: 0.4, 6: 0.4, 11: 0.9}
_ROOT_PRICE_OVER_OTHER_BASS = 0.0


class Material(NamedTuple):
    """Pitch classes for a voicing; hashable, so that candidates are found once.

    Attributes:
        guides: guide tones; in every voicing.
        colours: tones the chord's name asks for beside root, plain fifth and guide tones.
        fillers: (pitch class, price) of the rest.
        root: the root's pitch class.
        bass: pitch class under the voicing: the root, a slash bass or the pedal point.
        flat_nine: True for a dominant whose own b9 may lie a minor ninth over its root.
    """

    guides: tuple[int, ...]
    colours: tuple[int, ...]
    fillers: tuple[tuple[int, float], ...]
    root: int
    bass: int
    flat_nine: bool


def material_of(planned: PlannedChord) -> Material:
    """The material for a planned chord, with its pedal point taken into account."""
    chord = planned.chord
    bass = (planned.pedal or chord.bass).pitch_class
    guides = tuple(dict.fromkeys(tone.tone.pitch_class for tone in chord.guide_tones))
    colours = tuple(_class_of(tone) for tone in chord.required if _is_colour(tone))
    colours = tuple(dict.fromkeys(colour for colour in colours if colour not in guides))
    return Material(
        guides=guides,
        colours=colours,
        fillers=_fillers(chord, bass, taken={*guides, *colours}),
        root=chord.root.pitch_class,
        bass=bass,
        flat_nine=chord.is_dominant,
    )


def _fillers(chord: Chord, bass: int, *, taken: set[int]) -> tuple[tuple[int, float], ...]:
    prices: dict[int, float] = {}
    for tone in (*chord.required, *chord.optional):
        pitch_class = _class_of(tone)
        if pitch_class in taken or pitch_class in prices:
            continue
        prices[pitch_class] = _price(tone, pitch_class, bass)
    return tuple(sorted(prices.items(), key=lambda item: (item[1], item[0])))


def _price(tone: ChordTone, pitch_class: int, bass: int) -> float:
    if tone.degree == 1 and pitch_class != bass:
        return _ROOT_PRICE_OVER_OTHER_BASS
    return _FILL_PRICE.get(tone.degree, 1.0)


def _is_colour(tone: ChordTone) -> bool:
    return tone.degree != 1 and not (tone.degree == 5 and tone.alter == 0)


def _class_of(tone: ChordTone) -> int:
    return tone.tone.pitch_class
