"""Where a chord stands and where a dominant goes: the distance from the tonic, the target that colours it."""

from __future__ import annotations

from dataclasses import dataclass

from introit.theory.key import Key, Mode
from introit.theory.numeral import Numeral
from introit.theory.pitch import Tone
from introit.theory.quality import Family
from introit.theory.scale import Situation

FIFTH_DOWN = 5
HALF_STEP_DOWN = 11
"""Movements of a root in semitones upwards, 0 to 11: a fifth down is a fourth up."""

_MINOR_TARGETS = {Mode.MAJOR: frozenset({2, 4, 9}), Mode.MINOR: frozenset({0, 2, 4, 5, 9})}
_MAJOR_TARGETS = {Mode.MAJOR: frozenset({0, 5, 7}), Mode.MINOR: frozenset({3, 7, 8, 10})}


@dataclass(frozen=True, slots=True)
class LocalKey:
    """What a numeral counts from: the key itself, or the target of an applied chord.

    Attributes:
        tonic: the first degree.
        mode: minor where that degree carries a minor chord.
    """

    tonic: Tone
    mode: Mode

    def semitones(self, root: Tone) -> int:
        """How far a root lies above the tonic, 0 to 11."""
        return (root.pitch_class - self.tonic.pitch_class) % 12


def local_key(numeral: Numeral, key: Key) -> LocalKey:
    """What a numeral counts from."""
    if numeral.applied is None:
        return LocalKey(key.tonic, key.mode)
    mode = Mode.MINOR if numeral.applied.is_minor else Mode.MAJOR
    return LocalKey(root_of(numeral.applied, key), mode)


def root_of(numeral: Numeral, key: Key) -> Tone:
    """The root of a numeral's chord, spelled as it is read in the key.

    A note of the key is spelled by its signature. Any other takes the name with the fewest accidentals;
    between names that are level, the one whose chord has fewer double accidentals, then the one that the
    degree gives. Diminished chords keep the degree's name there: their spelling is full of double flats under
    any name.

    A dominant on an unaltered degree goes with its two, the chord a fifth above, so that no two-five is half
    sharp and half flat. VII7 is F7 in F# and Bb7 in B (not E#7 and A#7), for its two is named Cm7b5 and
    Fm7b5; D#7, after A#m7b5, stays D#7.
    """
    local = local_key(numeral, key)
    written = local.tonic.up(numeral.degree, numeral.alter)
    if numeral.alter == 0 and not numeral.is_minor:
        beside_its_two = key.plainest(written.up(5)).up(4)
        if abs(beside_its_two.alter) <= 1:
            return beside_its_two
    if key.holds(written):
        return written
    return min(
        written.names(),
        key=lambda name: (abs(name.alter), _double_accidentals(numeral, name), name != written),
    )


def situation_of(numeral: Numeral, key: Key, following: Numeral | None) -> Situation:
    """Where a chord stands, and for a dominant where it goes.

    Args:
        numeral: the chord.
        key: the key it is read in.
        following: the chord after it, which is the target where it lies a fifth or a half step below. Without
            it, or where it lies elsewhere, the target is the degree a fifth below; where the key has no chord
            there, the dominant is a substitute that falls by a half step.
    """
    local = local_key(numeral, key)
    root = root_of(numeral, key)
    semitones = local.semitones(root)
    minor_key = local.mode is Mode.MINOR
    if following is not None:
        movement = (root_of(following, key).pitch_class - root.pitch_class) % 12
        if movement == FIFTH_DOWN:
            return Situation(semitones, minor_key, to_minor=following.is_minor)
        if movement == HALF_STEP_DOWN:
            return Situation(semitones, minor_key, falls_by_half_step=True)
    target = (semitones + FIFTH_DOWN) % 12
    to_minor = target in _MINOR_TARGETS[local.mode]
    substitute = not to_minor and target not in _MAJOR_TARGETS[local.mode]
    return Situation(semitones, minor_key, to_minor=to_minor, falls_by_half_step=substitute)


def _double_accidentals(numeral: Numeral, root: Tone) -> int:
    if numeral.kind.family is Family.DIMINISHED:
        return 0
    from_degrees = ((3, -1 if numeral.is_minor else 0), (5, 0), (7, -1))
    return sum(abs(root.up(degree, alter).alter) > 1 for degree, alter in from_degrees)
