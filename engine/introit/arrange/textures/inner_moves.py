"""Which inner lines a chord can bear, by the trade's names for them, in semitones over its root."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from introit.arrange.textures.members import members
from introit.theory.chord import Chord
from introit.theory.quality import Family

NINE_TO_ONE, FALLING_ROOT, THIRTEEN = "nine to one", "falling root", "thirteen to flat thirteen"
_HELD_DEGREES = ("3", "5", "7", "9")
_FIFTH, _FLAT_THIRTEENTH, _SIXTH = 7, 8, 9
_SEVENTH, _THIRTEENTH = 7, 13
"""Degrees."""
_TWOS = {Family.MINOR, Family.HALF_DIMINISHED}
"""What goes before a dominant as its two."""
_FALLS_TO_THIRD = 9
"""Over a minor chord's root: the third of the dominant after it, as the five follows the two."""


class Move(NamedTuple):
    """An inner line.

    Attributes:
        name: as an intro's file has it; empty for a held chord.
        voices: for each moving voice its steps, in semitones over the root.
        must: pitch classes that are held while they move.
        may: pitch classes that may be held, those that must be among them.
        falls: semitones from the first voice's last step down to the note that it arrives on; 0 for none.
        spare: of those that may be held, what would be one tension more beside the line's own.
    """

    name: str
    voices: tuple[tuple[int, ...], ...]
    must: tuple[int, ...]
    may: tuple[int, ...]
    falls: int = 0
    spare: tuple[int, ...] = ()

    @property
    def steps(self) -> int:
        """How many notes each moving voice has; 1 where nothing moves."""
        return len(self.voices[0]) if self.voices else 1


@lru_cache(maxsize=8192)
def moves_on(chord: Chord, following: Chord, wanted: str | None) -> tuple[Move, ...]:
    """The inner lines that a chord can bear before another, the best first.

    Args:
        chord: the chord.
        following: the chord after it.
        wanted: the only one to be looked for; None for any.
    """
    found = (_falling_root(chord, following), _thirteen(chord, following), _nine_to_one(chord))
    return tuple(move for move in found if move is not None and wanted in {None, move.name})


@lru_cache(maxsize=4096)
def held_chord(chord: Chord) -> Move:
    """No line: the third and the seventh, with the fifth, the ninth and the tones of the chord's name."""
    must = _pitch_classes(chord, ("3", "7"))
    named = tuple(tone.pitch_class for tone in chord.required if tone.degree != 1)
    return Move("", (), must, _inside(chord, (*must, *named, *_pitch_classes(chord, _HELD_DEGREES))))


@lru_cache(maxsize=4096)
def tense_chords(chord: Chord) -> tuple[Move, ...]:
    """No line either, but a tension in the grip for certain; one for each that it may have."""
    held = held_chord(chord)
    plain = {*held.must, chord.root.pitch_class, (chord.root.pitch_class + _FIFTH) % 12}
    return tuple(held._replace(must=(*held.must, tone)) for tone in held.may if tone not in plain)


def _nine_to_one(chord: Chord) -> Move | None:
    """Ninth to root with seventh to sixth: where the chord has them, and its scale the sixth."""
    seventh, ninth = chord.tone("7"), chord.tone("9")
    if chord.kind.family not in {Family.MINOR, Family.MAJOR} or seventh is None or ninth is None:
        return None
    if seventh.degree != 7 or ninth.alter or not _in_scale(chord, _SIXTH):
        return None
    above = _above_root(chord, seventh.pitch_class)
    held = _inside(chord, _pitch_classes(chord, ("3", "5")))
    return Move(NINE_TO_ONE, ((2, 0), (above, _SIXTH)), _pitch_classes(chord, ("3",)), held)


def _falling_root(chord: Chord, following: Chord) -> Move | None:
    """Root, major seventh, seventh of a minor or half-diminished chord into the third of its dominant."""
    third = following.tone("3")
    if chord.kind.family not in _TWOS or not following.is_dominant or third is None:
        return None
    if third.degree != 3 or _above_root(chord, third.pitch_class) != _FALLS_TO_THIRD:
        return None
    held = _inside(chord, _pitch_classes(chord, ("3", "5", "b5")))
    return Move(FALLING_ROOT, ((0, -1, -2),), _pitch_classes(chord, ("3",)), held, falls=1)


def _thirteen(chord: Chord, following: Chord) -> Move | None:
    """Thirteenth to flat thirteenth of a dominant, into the ninth or the fifth of the chord after it.

    Not where its name has other colours and no thirteenth: a ninth chord is written where nothing is to move.
    """
    if not chord.is_dominant or chord.kind.family is Family.SUSPENDED:
        return None
    colours = {tone.degree for tone in chord.required if tone.degree > _SEVENTH}
    if colours and _THIRTEENTH not in colours:
        return None
    root = chord.root.pitch_class
    goal = (root + _FLAT_THIRTEENTH - 1) % 12
    welcome = {tone.pitch_class for degree in ("9", "5") if (tone := following.tone(degree)) is not None}
    if (root + _SIXTH) % 12 not in members(chord) or goal not in welcome:
        return None
    held = tuple(pitch for pitch in _pitch_classes(chord, ("3", "7", "9")) if pitch != (root + 7) % 12)
    return Move(
        THIRTEEN,
        ((_SIXTH, _FLAT_THIRTEENTH),),
        _pitch_classes(chord, ("3", "7")),
        _inside(chord, held),
        falls=1,
        spare=_pitch_classes(chord, ("9",)),
    )


def _pitch_classes(chord: Chord, degrees: tuple[str, ...]) -> tuple[int, ...]:
    found = (chord.tone(degree) for degree in degrees)
    return tuple(dict.fromkeys(tone.pitch_class for tone in found if tone is not None))


def _inside(chord: Chord, pitch_classes: tuple[int, ...]) -> tuple[int, ...]:
    """Those that may sound over the chord's bass note."""
    return tuple(dict.fromkeys(each for each in pitch_classes if each in members(chord)))


def _above_root(chord: Chord, pitch_class: int) -> int:
    return (pitch_class - chord.root.pitch_class) % 12


def _in_scale(chord: Chord, semitones: int) -> bool:
    return any(_above_root(chord, tone.pitch_class) == semitones for tone in chord.scale)
