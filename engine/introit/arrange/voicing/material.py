"""What a comping voicing of one chord is made of: tones it must have, and others with their prices.

Root and fifth are dropped first ([FJ]). The root is left out where the bass plays it ([RL], [Ke02])
and kept where the bass plays something else, or the chord could not be told. A suspended dominant takes no
b13 that is not written: with the b9 it would be the minor four over five.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from functools import lru_cache
from typing import Final, NamedTuple

from introit.arrange.plan import PlannedChord
from introit.arrange.tones import is_tonic_minor, offered
from introit.theory.chord import Chord, ChordTone
from introit.theory.key import Key
from introit.theory.pitch import Tone
from introit.theory.quality import Family

# Prices of tones that nothing asks for; a voicing is filled with the cheapest first. Judgement, no source.
_ROOT_OF_PLAIN_CHORD = 0.6
"""Diminished chords and triads have little else, and their tensions say much."""
_FIFTH = 0.2
_FIFTH_BESIDE_SIXTH = 2.0
_TENSION = 0.3
_LATER_TENSION = 0.25
"""Added for each tension that is more usual on the chord."""
_TENSION_OF_PLAIN_CHORD = 3.0
_ELEVENTH_OF_TONIC_MINOR = 5.0
_MAJOR_THIRD_OF_MINOR_KEY = 4.0
"""Added for a tension that is the major third of a minor key, such as bVII7's #11: it lights the key up."""
_OVER_FOREIGN_BASS = {"root": 0.0, "fifth": 0.1, "tension": 4.0}
"""Over a slash bass or a pedal point the chord has to be told from the comp alone."""
_GUIDE_IN_BASS = 0.3
_QUARTAL = frozenset({"m7", "m9", "m11", "m13", "6/9", "maj7", "maj9", "maj13", "7", "9", "13"})
"""Qualities that stacks of fourths tell well, beside the suspended ones: common practice, no source."""


UNTOLD: Final = 6.0
"""Price of a voicing without what makes the chord what it is: a half-diminished one without its flat five."""


class Material(NamedTuple):
    """Pitch classes for a voicing; hashable, so that candidates are found once.

    Attributes:
        guides: guide tones, third before seventh; in every full voicing, unless the bass has one as its slash
            note.
        colours: tones the chord's name asks for beside root, plain fifth and guide tones.
        fillers: (pitch class, price) of the rest, cheapest first.
        root: the root's pitch class.
        bass: pitch class under the voicing: the root, a slash bass or the pedal point.
        flat_nine: True for a dominant, whose own b9 may lie a minor ninth over its root.
        familiar: for `alt`, the b9 with the b13, which alone are no more than a plain dominant of minor.
        fifth: pitch class of the plain or altered fifth that belongs to the chord; None where it has none.
        tensions: pitch classes of ninths, elevenths and thirteenths among colours and fillers.
        dark: those of them that are altered, on a dominant.
        pedal: True where the bass is a declared pedal point, over which a minor ninth may lie.
        quartal: True where stacks of fourths tell the chord.
        telling: pitch class of a half-diminished chord's flat five, without which it is a minor seventh; None
            for other chords, where bass or melody sound it, and over a foreign bass, which makes it another.
    """

    guides: tuple[int, ...]
    colours: tuple[int, ...]
    fillers: tuple[tuple[int, float], ...]
    root: int
    bass: int
    flat_nine: bool
    familiar: frozenset[int] = frozenset()
    fifth: int | None = None
    tensions: frozenset[int] = frozenset()
    dark: frozenset[int] = frozenset()
    pedal: bool = False
    quartal: bool = False
    telling: int | None = None

    def is_told_by(self, pitch_classes: Collection[int]) -> bool:
        """Whether tones have what makes the chord what it is, beside its guide tones."""
        return self.telling is None or self.telling in pitch_classes

    def has_two_fifths(self, pitch_classes: Iterable[int]) -> bool:
        """True for a dominant with its fifth and its b13 at once: the b13 drops the fifth."""
        above_root = {(pitch_class - self.root) % 12 for pitch_class in pitch_classes}
        return self.flat_nine and {7, 8} <= above_root

    def may_rub(self, low: int) -> bool:
        """True for a note over which a minor ninth may lie, the b9: a dominant's root.

        Args:
            low: pitch class or MIDI note.
        """
        return self.flat_nine and (low - self.root) % 12 == 0

    @property
    def relative(self) -> Material:
        """The same chord with its root on 0: what is found for one key is found for all twelve."""
        root = self.root
        return self._replace(
            guides=tuple((tone - root) % 12 for tone in self.guides),
            colours=tuple((tone - root) % 12 for tone in self.colours),
            fillers=tuple(((tone - root) % 12, price) for tone, price in self.fillers),
            root=0,
            bass=(self.bass - root) % 12,
            familiar=_shifted(self.familiar, -root),
            fifth=None if self.fifth is None else (self.fifth - root) % 12,
            tensions=_shifted(self.tensions, -root),
            dark=_shifted(self.dark, -root),
            telling=None if self.telling is None else (self.telling - root) % 12,
        )


def material_of(planned: PlannedChord, *, key: Key | None = None, beside: Iterable[int] = ()) -> Material:
    """The material for a planned chord, with its pedal point taken into account.

    Args:
        planned: the chord.
        key: the key that is played in, where known.
        beside: pitch classes that sound above it; a fifth among them keeps the b13 out of a dominant, and
            tells a half-diminished chord.
    """
    false_third = (key.tonic.pitch_class + 4) % 12 if key and key.is_minor else None
    return _material(planned.chord, planned.pedal, false_third, frozenset(beside))


@lru_cache(maxsize=4096)
def _material(chord: Chord, pedal: Tone | None, false_third: int | None, beside: frozenset[int]) -> Material:
    bass = (pedal or chord.bass).pitch_class
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
    if pedal is None and in_bass is not None:
        taken.add((bass + 1) % 12)  # a minor ninth over a slash bass
    if false_third in prices and false_third in _classes(offered(chord), _is_tension):
        prices[false_third] += _MAJOR_THIRD_OF_MINOR_KEY
    fillers = sorted(
        (price, (pitch_class - root) % 12)
        for pitch_class, price in prices.items()
        if pitch_class not in taken
    )
    kept = {*colours, *((above + root) % 12 for _, above in fillers)}
    tensions = _classes((*chord.required, *offered(chord)), _is_tension) & kept
    return Material(
        guides=guides,
        colours=tuple(colours),
        fillers=tuple(((above + root) % 12, price) for price, above in fillers),
        root=root,
        bass=bass,
        flat_nine=chord.is_dominant,
        familiar=frozenset({(root + 1) % 12, (root + 8) % 12} if chord.quality == "7alt" else ()),
        fifth=_fifth(chord),
        tensions=tensions,
        dark=tensions & _classes((*chord.required, *offered(chord)), _is_altered)
        if chord.is_dominant
        else frozenset(),
        pedal=pedal is not None,
        quartal=chord.kind.family is Family.SUSPENDED
        or (chord.quality in _QUARTAL and not set(chord.alterations) - {"9", "11", "13", "#11"}),
        telling=_telling(chord, bass, beside),
    )


def _prices(chord: Chord, bass: int) -> dict[int, float]:
    """Price of each tone by pitch class; the first tone on a pitch class gives it."""
    prices: dict[int, float] = {}
    tensions = 0
    foreign = bass != chord.root.pitch_class
    for tone in (*chord.required, *offered(chord)):
        kind = _kind(tone, chord)
        if _is_left_out(tone, kind, chord, foreign=foreign):
            continue
        price = _price(kind, chord, foreign=foreign, rank=tensions)
        if tone.degree == 11 and kind == "tension" and is_tonic_minor(chord):
            price = max(price, _ELEVENTH_OF_TONIC_MINOR)
        prices.setdefault(tone.pitch_class, price)
        tensions += kind == "tension"
    return prices


def _is_left_out(tone: ChordTone, kind: str, chord: Chord, *, foreign: bool) -> bool:
    """Whether the comp does without: the root that the bass has, a suspended dominant's unwritten b13."""
    if kind == "root":
        return not (foreign or _is_plain(chord) or _is_open(chord))
    return kind == "tension" and tone.name == "b13" and chord.kind.family is Family.SUSPENDED


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
        return _ROOT_OF_PLAIN_CHORD
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


def _is_tension(tone: ChordTone) -> bool:
    return tone.degree in {9, 11, 13}


def _is_altered(tone: ChordTone) -> bool:
    return tone.alter != 0


def _fifth(chord: Chord) -> int | None:
    found = [tone for tone in (*chord.required, *chord.optional) if tone.degree == 5]
    return found[0].pitch_class if found else None


def _telling(chord: Chord, bass: int, beside: Collection[int]) -> int | None:
    own = {chord.root.pitch_class, *(tone.pitch_class for tone in chord.required)}
    if chord.kind.family is not Family.HALF_DIMINISHED or bass not in own:
        return None
    fifth = _fifth(chord)
    return None if fifth in {bass, *beside} else fifth


def _classes(tones: Iterable[ChordTone], wanted: Callable[[ChordTone], bool]) -> frozenset[int]:
    return frozenset(tone.pitch_class for tone in tones if wanted(tone))


def _shifted(pitch_classes: frozenset[int], by: int) -> frozenset[int]:
    return frozenset((pitch_class + by) % 12 for pitch_class in pitch_classes)
