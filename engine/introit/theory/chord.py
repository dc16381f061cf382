"""Chords: a numeral in a key, or a chord symbol, as spelled tones and what each of them is for.

Every chord is spelled from its own root. Its **required** tones make it this chord; **optional** ones may
colour it where it stands, the most usual first; **avoid** tones spoil it when held. Where b13 sounds, the
fifth is left out.

A bass note that is not the root, written after a slash or held as a pedal point, has one rule for its name:
a member of the chord is spelled by the chord (Amaj7/G# in Db, Fm7b5/Ab in C# minor), any other by the key
(Dm7/G). One exception keeps borrowed chords on the key's side: over such a bass a lowered degree gives up its
plainest name for the one its degree has, where that takes a single flat and no double flat in the chord, and
leaves the bass the name it has in the key (bVImaj7/5 is Cbmaj7/Bb in Eb and Fbmaj7/Eb in Ab).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from introit.theory.key import Key
from introit.theory.numeral import Numeral
from introit.theory.pitch import Tone, degree_name, read_degree, read_tone, semitones_above
from introit.theory.quality import QUALITIES, Family, Quality
from introit.theory.scale import NOWHERE, Scale, Situation, scale_of
from introit.theory.suffix import Reader, alterations_text, read_suffix, unread_ending
from introit.theory.target import root_of, situation_of

_BASS = re.compile(r"/(?=[A-Ga-g])")


@dataclass(frozen=True, slots=True)
class ChordTone:
    """One tone of a chord.

    Attributes:
        degree: 1 to 13, against the major scale of the root.
        alter: semitones from there; -2 is the seventh of a diminished chord.
        tone: as it is spelled.
    """

    degree: int
    alter: int
    tone: Tone

    @property
    def name(self) -> str:
        """Its degree as text: `b9`, `5`, `#11`, `bb7`."""
        return degree_name(self.degree, self.alter)

    @property
    def pitch_class(self) -> int:
        """0 to 11, C = 0."""
        return self.tone.pitch_class


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord where it stands.

    Attributes:
        root: as spelled.
        bass: the root, or the note after the slash.
        quality: a name in `quality.QUALITIES`.
        alterations: written tensions and altered fifths beyond the quality.
        required: tones without which it is not this chord, rising by degree; the root among them.
        optional: the plain fifth where it may sound, and the tensions on offer, the most usual first.
        avoid: tones that spoil it when held.
        guide_tones: third and seventh (the sixth for a missing seventh, the fourth for a third), in that
            order.
        scale: its chord-scale, rising from the root: six to eight tones.
        scale_name: the trade's name of that scale.
        symbol: plain chord symbol: `Ebmaj7(#11)`, `F#m7b5`, `Dm7/G`.
        is_dominant: True for a dominant seventh of any colour, suspended too.
    """

    root: Tone
    bass: Tone
    quality: str
    alterations: tuple[str, ...]
    required: tuple[ChordTone, ...]
    optional: tuple[ChordTone, ...]
    avoid: tuple[ChordTone, ...]
    guide_tones: tuple[ChordTone, ...]
    scale: tuple[Tone, ...]
    scale_name: str
    symbol: str
    is_dominant: bool

    def __hash__(self) -> int:
        """Of what tells nearly all chords apart: much is kept by chord, and it has many tones."""
        return hash((self.symbol, self.scale_name))

    @property
    def kind(self) -> Quality:
        """The row of the table for its quality."""
        return QUALITIES[self.quality]

    def symbol_over(self, bass: Tone, *, lowered: bool = False) -> str:
        """Its symbol over another bass note, such as a pedal point, spelled by the rule of this module.

        Args:
            bass: as the key names it.
            lowered: True where the chord stands on a lowered degree.
        """
        members = _members(self.kind, self.alterations)
        root, bass = _over(self.root, members, bass, lowered=lowered)
        ending = self.symbol.removeprefix(str(self.root))
        return f"{root}{ending}" + ("" if bass.pitch_class == self.bass.pitch_class else f"/{bass}")

    def tone(self, degree: str) -> ChordTone | None:
        """The chord's tone for a degree, among required and optional ones; None where it has none.

        A plain number finds the degree in whatever alteration the chord has (`9` may find b9, `3` a minor
        third); an altered one finds just that. 2, 4 and 6 are the same as 9, 11 and 13. Where there is no
        third, `3` finds the fourth or second that stands for it; where there is no seventh, `7` finds the
        sixth.

        Raises:
            NotationError: if the text is not a degree.
        """
        number, alter = read_degree(degree)
        found = self._on(number, None if degree == str(number) else alter)
        if found is None and degree in {"3", "7"}:
            index = 0 if degree == "3" else 1
            return self.guide_tones[index] if index < len(self.guide_tones) else None
        return found

    def _on(self, number: int, alter: int | None) -> ChordTone | None:
        for tone in (*self.required, *self.optional):
            if (tone.degree - number) % 7 == 0 and alter in {None, tone.alter}:
                return tone
        return None


@lru_cache(maxsize=16384)
def chord_of(numeral: Numeral, key: Key, *, following: Numeral | None = None) -> Chord:
    """The chord of a numeral in a key.

    Args:
        numeral: the chord.
        key: the key it is read in.
        following: the chord after it, where known: the target of a dominant decides its tensions.
    """
    root = bass = root_of(numeral, key)
    if numeral.bass_degree:
        named = key.degree(numeral.bass_degree, numeral.bass_alter)
        members = _members(numeral.kind, numeral.alterations)
        lowered = numeral.alter < 0 and not key.holds(root)
        root, bass = _over(root, members, named, lowered=lowered)
    situation = situation_of(numeral, key, following)
    return _build(root, numeral.kind, numeral.alterations, bass=bass, situation=situation)


@lru_cache(maxsize=4096)
def chord_from_symbol(text: str) -> Chord:
    """Reads a plain chord symbol: `Ebmaj7(#11)`, `F#m7b5`, `C6/9`, `Dm7/G`; coloured as by itself.

    Raises:
        NotationError: with the character where reading failed.
    """
    reader = Reader.of(text)
    root, reader.position = read_tone(reader.plain, reader.position)
    quality, alterations = read_suffix(reader, small=False)
    bass = root
    if reader.take(_BASS):
        written, reader.position = read_tone(reader.plain, reader.position)
        _, bass = _over(root, _members(quality, alterations), written)
    if not reader.at_end:
        raise unread_ending(reader, small=False)
    return _build(root, quality, alterations, bass=bass, situation=NOWHERE)


@lru_cache(maxsize=16384)
def _build(
    root: Tone, quality: Quality, alterations: tuple[str, ...], *, bass: Tone, situation: Situation
) -> Chord:
    scale = scale_of(quality, alterations, situation)
    required, optional, avoid = _sorted_out(quality, alterations, scale)
    slash = "" if bass.pitch_class == root.pitch_class else f"/{bass}"
    return Chord(
        root=root,
        bass=bass,
        quality=quality.name,
        alterations=alterations,
        required=_tones(root, required),
        optional=_tones(root, optional),
        avoid=_tones(root, avoid),
        guide_tones=_tones(root, _guides(required)),
        scale=tuple(root.up(*read_degree(degree)) for degree in scale.degrees),
        scale_name=scale.name,
        symbol=f"{root}{quality.name}{alterations_text(alterations)}{slash}",
        is_dominant=quality.family in {Family.DOMINANT, Family.SUSPENDED} and quality.has_seventh,
    )


def _members(quality: Quality, alterations: tuple[str, ...]) -> tuple[str, ...]:
    """Degrees that belong to a chord as it is written, those that may be left out among them."""
    return (*_required(quality, alterations), *quality.optional)


def _over(root: Tone, members: Iterable[str], bass: Tone, *, lowered: bool = False) -> tuple[Tone, Tone]:
    """Names of a chord's root and of its bass note; the rule stands at the top of this module."""
    degrees = [read_degree(degree) for degree in members]
    member = next((d for d in degrees if root.up(*d).pitch_class == bass.pitch_class), None)
    if member is None:
        return root, bass
    flat = next((name for name in root.names() if name.alter == -1), None)
    if lowered and flat and flat.up(*member) == bass and all(flat.up(*d).alter >= -1 for d in degrees):
        return flat, bass
    spelled = root.up(*member)
    return root, bass if abs(spelled.alter) > 1 else spelled  # B+/G: nobody reads F##


def _required(quality: Quality, alterations: tuple[str, ...]) -> list[str]:
    altered_fifths = {"b5", "#5"} & set(alterations)
    plain = [degree for degree in quality.required if not (degree == "5" and altered_fifths)]
    return sorted({*plain, *alterations}, key=read_degree)


def _sorted_out(
    quality: Quality, alterations: tuple[str, ...], scale: Scale
) -> tuple[list[str], list[str], list[str]]:
    """Degrees that are required, optional and avoided, each pitch in one of them only."""
    required = _required(quality, alterations)
    optional: list[str] = []
    dropped = [degree for degree in quality.optional if degree in scale.avoid]
    for degree in (*quality.optional, *scale.available):
        if degree in dropped:
            continue
        if _sounds_among(degree, (*required, *optional)):
            continue
        (dropped if _clashes(degree, required) else optional).append(degree)
    avoid = [
        degree
        for degree in dict.fromkeys((*scale.avoid, *dropped))
        if not _sounds_among(degree, (*required, *optional))
    ]
    return required, optional, avoid


def _clashes(degree: str, required: Iterable[str]) -> bool:
    """True when a degree cannot sound beside the written ones: altered there, or a fifth with b13."""
    number, alter = read_degree(degree)
    for other in required:
        second, second_alter = read_degree(other)
        two_ninths = number % 7 == 2 and alter != 0 and second_alter != 0
        above_diminished = degree == "7" and other == "bb7"
        if (number - second) % 7 == 0 and not two_ninths and not above_diminished:
            return True
        if degree == "5" and other == "b13":
            return True
    return False


def _sounds_among(degree: str, others: Iterable[str]) -> bool:
    return semitones_above(degree) in map(semitones_above, others)


def _guides(required: Iterable[str]) -> list[str]:
    names = list(required)
    third = next((name for name in ("3", "b3", "4", "2") if name in names), None)
    seventh = next((name for name in ("7", "b7", "bb7", "6") if name in names), None)
    return [name for name in (third, seventh) if name]


def _tones(root: Tone, degrees: Iterable[str]) -> tuple[ChordTone, ...]:
    numbered = (read_degree(degree) for degree in degrees)
    return tuple(ChordTone(number, alter, root.up(number, alter)) for number, alter in numbered)
