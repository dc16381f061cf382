"""Chord-scales: which scale colours a chord where it stands, which tensions it offers and which to avoid.

Tensions belong to the target of a chord, not to the key: to a dominant of a minor chord b9 and b13 are added,
never a plain 9 or 13; bVII7, bII7 and every dominant that falls by a half step take 9, #11 and 13. That is
about what is added: what is written is written. A written 13 is natural and brings its natural 9 before a
minor chord too (13: Mixolydian; 9sus4 and 13sus4: suspended Mixolydian), unless a b9 or #9 stands beside it.
One table of scales and one rule for each family of chords; nothing is decided for single intros.

A half-diminished chord on two is offered 11 and b13. Its natural 9 is often played (netplaces.com, below),
but it is the major third of the key: whoever wants it there writes iiø9.

Sources for tensions and avoid notes: the encyclopedia article "Avoid note" (tables 1 and 2); Terefenko, "Jazz
Theory", abstract of ch. 5; "minor ii-V-I progressions" at netplaces.com; thejazzresource.com, chord tensions.
The tensions of bII7, bVII7, VI7 and III7 are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from introit.theory.pitch import read_degree, semitones_above
from introit.theory.quality import Family, Quality


@dataclass(frozen=True, slots=True)
class Scale:
    """One chord-scale.

    Attributes:
        name: the trade's name.
        degrees: seven or eight degrees against the major scale of the root, rising.
        available: tensions it offers, the most usual first.
        avoid: tones that spoil the chord's sound or function when held.
    """

    name: str
    degrees: tuple[str, ...]
    available: tuple[str, ...]
    avoid: tuple[str, ...] = ()


def _scale(name: str, degrees: str, available: str, avoid: str = "") -> Scale:
    return Scale(name, tuple(degrees.split()), tuple(available.split()), tuple(avoid.split()))


SCALES: dict[str, Scale] = {
    scale.name: scale
    for scale in (
        _scale("Ionian", "1 2 3 4 5 6 7", "9 13", "11"),
        _scale("Lydian", "1 2 3 #4 5 6 7", "9 #11 13", "11"),
        _scale("Lydian augmented", "1 2 3 #4 #5 6 7", "9 #11", "5 11"),
        _scale("Dorian", "1 2 b3 4 5 6 b7", "9 11", "13"),
        _scale("Phrygian", "1 b2 b3 4 5 b6 b7", "11", "b9 9 b13"),
        _scale("Aeolian", "1 2 b3 4 5 b6 b7", "9 11", "b13"),
        _scale("melodic minor", "1 2 b3 4 5 6 7", "9 13 11"),
        _scale("Locrian", "1 b2 b3 4 b5 b6 b7", "11 b13", "b9"),
        _scale("Locrian natural 2", "1 2 b3 4 b5 b6 b7", "9 11 b13"),
        _scale("whole-half diminished", "1 2 b3 4 b5 b6 bb7 7", "9 11 b13 7"),
        _scale("Mixolydian", "1 2 3 4 5 6 b7", "9 13", "11"),
        _scale("Mixolydian flat 6", "1 2 3 4 5 b6 b7", "9 b13", "11 13"),
        _scale("Phrygian dominant", "1 b2 3 4 5 b6 b7", "b9 b13 #9", "9 11 13"),
        _scale("Lydian dominant", "1 2 3 #4 5 6 b7", "9 13 #11", "b9 11"),
        _scale("half-whole diminished", "1 b2 #2 3 #4 5 6 b7", "b9 13 #9 #11", "9 11 b13"),
        _scale("altered", "1 b2 #2 3 #4 b6 b7", "b9 b13 #9 #11", "5 9 11 13"),
        _scale("whole tone", "1 2 3 #4 #5 b7", "9 #11", "5 11"),
        _scale("suspended Mixolydian", "1 2 4 5 6 b7", "9 13", "3"),
        _scale("suspended Phrygian", "1 b2 4 5 b6 b7", "b9 b13", "3 9 13"),
        _scale("suspended Phrygian natural 6", "1 b2 4 5 6 b7", "b9 13", "3 9 b13"),
        _scale("suspended Aeolian", "1 2 4 5 b6 b7", "9 b13", "3 13"),
    )
}
"""Every chord-scale by its name."""


@dataclass(frozen=True, slots=True)
class Situation:
    """Where a chord stands, as far as its colour depends on it.

    Attributes:
        semitones: of its root above the tonic, 0 to 11; None when the key is unknown.
        minor_key: True when that tonic is a minor one.
        to_minor: for a dominant: True when its target is a minor (or half-diminished) chord.
        falls_by_half_step: True for a dominant whose root moves down a half step, as a tritone substitute
            does.
    """

    semitones: int | None = None
    minor_key: bool = False
    to_minor: bool = False
    falls_by_half_step: bool = False


NOWHERE = Situation()
"""A chord by itself, as a chord symbol gives it."""


def scale_of(quality: Quality, alterations: tuple[str, ...], situation: Situation) -> Scale:
    """The chord-scale of a chord where it stands.

    Args:
        quality: of the chord.
        alterations: written tensions and altered fifths beyond the quality.
        situation: where it stands.
    """
    written = frozenset((*quality.required, *alterations))
    if written & {"b5", "#5"}:
        written -= {"5"}
    return _holding(SCALES[_RULES[quality.family](quality, written, situation)], written)


def _holding(scale: Scale, written: frozenset[str]) -> Scale:
    """The scale with every written tone in it; one that it lacks takes the place of its own degree."""
    sounds = {semitones_above(degree) for degree in scale.degrees}
    missing = sorted((degree for degree in written if semitones_above(degree) not in sounds), key=read_degree)
    if not missing:
        return scale
    wanted = {semitones_above(degree) for degree in written}
    lines = {read_degree(degree)[0] % 7 for degree in missing}
    kept = [
        degree
        for degree in scale.degrees
        if read_degree(degree)[0] % 7 not in lines or semitones_above(degree) in wanted
    ]
    degrees = sorted((*kept, *missing), key=semitones_above)
    return replace(scale, name=f"{scale.name} with {' and '.join(missing)}", degrees=tuple(degrees))


def _of_major(quality: Quality, written: frozenset[str], situation: Situation) -> str:
    if "#5" in written:
        return "Lydian augmented"
    if written & {"#11", "b5"}:
        return "Lydian"
    if situation.semitones == 7 and not quality.has_seventh:
        return "Mixolydian"
    tonics = {None, 0, 7, 3} if situation.minor_key else {None, 0, 7}
    return "Ionian" if situation.semitones in tonics else "Lydian"


def _of_minor(quality: Quality, written: frozenset[str], situation: Situation) -> str:
    if "b13" in written:
        return "Aeolian"
    if written & {"6", "7"}:
        return "melodic minor"
    if "13" in written:
        return "Dorian"
    if situation.semitones == 0 and situation.minor_key and not quality.has_seventh:
        return "melodic minor"
    if "9" not in written:
        phrygian = {7} if situation.minor_key else {4}
        if situation.semitones in phrygian:
            return "Phrygian"
    return "Aeolian" if situation.semitones == 9 and not situation.minor_key else "Dorian"


def _of_dominant(quality: Quality, written: frozenset[str], situation: Situation) -> str:
    if quality.name == "7alt":
        return "altered"
    if written & {"b9", "#9"}:
        return _of_altered_ninth(written, situation)
    if "#5" in written:
        return "whole tone"
    if "b13" in written:
        return "Mixolydian flat 6" if "9" in written or not situation.to_minor else "Phrygian dominant"
    if written & {"#11", "b5"}:
        return "Lydian dominant"
    if situation.falls_by_half_step or situation.semitones in {1, 10}:
        return "Lydian dominant"
    if not situation.to_minor or "13" in written:
        return "Mixolydian"
    return "Mixolydian flat 6" if "9" in written else "Phrygian dominant"


def _of_altered_ninth(written: frozenset[str], situation: Situation) -> str:
    if written & {"#5", "b5"} or ("b13" in written and written & {"#9", "#11"}):
        return "altered"
    if "13" in written or (not situation.to_minor and "b13" not in written):
        return "half-whole diminished"
    if written & {"#11", "#9"}:
        return "altered"
    return "Phrygian dominant"


_SUSPENDED_SCALES = {
    (False, False): "suspended Mixolydian",
    (False, True): "suspended Aeolian",
    (True, False): "suspended Phrygian natural 6",
    (True, True): "suspended Phrygian",
}
"""By whether the ninth and the thirteenth are flat."""


def _of_suspended(quality: Quality, written: frozenset[str], situation: Situation) -> str:
    to_minor = situation.to_minor and quality.has_seventh
    plain = bool(written & {"9", "13"})
    flat_nine = bool(written & {"b9", "#9"}) or (to_minor and not plain)
    flat_thirteen = "b13" in written or (flat_nine and "13" not in written)
    return _SUSPENDED_SCALES[flat_nine, flat_thirteen]


def _of_half_diminished(_quality: Quality, written: frozenset[str], situation: Situation) -> str:
    if "b9" in written:
        return "Locrian"
    on_six_of_minor = situation.minor_key and situation.semitones == 9
    natural = "9" in written or on_six_of_minor or situation.semitones is None
    return "Locrian natural 2" if natural else "Locrian"


def _of_diminished(_quality: Quality, _written: frozenset[str], _situation: Situation) -> str:
    return "whole-half diminished"


def _of_augmented(_quality: Quality, _written: frozenset[str], _situation: Situation) -> str:
    return "whole tone"


_RULES = {
    Family.MAJOR: _of_major,
    Family.MINOR: _of_minor,
    Family.DOMINANT: _of_dominant,
    Family.SUSPENDED: _of_suspended,
    Family.HALF_DIMINISHED: _of_half_diminished,
    Family.DIMINISHED: _of_diminished,
    Family.AUGMENTED: _of_augmented,
}
