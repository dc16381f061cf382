"""A chord's name as a place in a key: `Abmaj7` in Eb is IVmaj7, so that it can be played in another key."""

from __future__ import annotations

from introit.errors import NotationError
from introit.theory.chord import chord_from_symbol
from introit.theory.key import Key
from introit.theory.numeral import Numeral
from introit.theory.passage import NUMBERS, PLACES
from introit.theory.pitch import LETTERS, MAJOR_SCALE, Tone
from introit.theory.quality import QUALITIES, Case, Family

_PASSING = frozenset({Family.HALF_DIMINISHED, Family.DIMINISHED})
"""Families whose chords pass on raised degrees. Of both cases, small letters are usual."""
_FOUR = 3


def numeral_named(text: str, key: Key) -> Numeral:
    """The numeral of a chord symbol such as `Ebmaj7`, `F#m7b5`, `Dm7/G` in a key.

    Its degree is the one that its letter has in the key, where musicians call it so. Elsewhere it is the
    usual one of the place: further than a half step from its letter's degree (Gb in E), or raised, as long
    as it is neither a raised four nor diminished (E7 in Eb is bII7).

    Raises:
        NotationError: with the character where reading failed.
    """
    if text[:1] not in tuple(LETTERS):
        raise NotationError(text, 0, "a chord name starts with a capital letter A to G")
    chord = chord_from_symbol(text)
    quality = QUALITIES[chord.quality]
    degree, alter = _place(chord.root, key, raised=quality.family in _PASSING)
    bass_degree: int | None = None
    bass_alter = 0
    if chord.bass.pitch_class != chord.root.pitch_class:
        bass_degree, bass_alter = _place(chord.bass, key, raised=True)
    return Numeral(
        degree,
        alter,
        upper=quality.case is Case.UPPER or (quality.case is Case.EITHER and quality.family not in _PASSING),
        quality=quality.name,
        alterations=chord.alterations,
        bass_degree=bass_degree,
        bass_alter=bass_alter,
    )


def _place(tone: Tone, key: Key, *, raised: bool) -> tuple[int, int]:
    """Degree and alteration of a tone, counted on the major scale of the tonic; `raised`: any may be."""
    index = (LETTERS.index(tone.letter) - LETTERS.index(key.tonic.letter)) % 7
    semitones = (tone.pitch_class - key.tonic.pitch_class) % 12
    alter = (semitones - MAJOR_SCALE[index] + 5) % 12 - 5
    if alter in (-1, 0) or (alter == 1 and (raised or index == _FOUR)):
        return index + 1, alter
    name = PLACES[semitones]
    return NUMBERS.index(name.split()[-1]) + 1, {"flat": -1, "raised": 1}.get(name.split()[0], 0)
