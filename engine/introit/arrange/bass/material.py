"""What a bass may play over a chord for each word of a manner, with prices. Prices: judgement, no source.

A price is a wish: what costs less is rather played. Whatever the word, the root and the chord's other members
are there at the last, so that something remains where the comp forbids the rest.
"""

from __future__ import annotations

from functools import lru_cache

from introit.theory.chord import Chord

LOWEST, HIGHEST = 28, 55
"""E1 to G3, the practical walking range (from memory)."""

Options = tuple[tuple[int, float], ...]
"""(MIDI note, price) pairs."""

_USUAL_HIGHEST = 50
_LOW, _HIGH = 31, 46
_TOO_LOW, _TOO_HIGH, _FAR_TOO_HIGH = 0.25, 0.25, 4.0
_LAST_RESORT = 9.0

# Chord members for each word of a manner: degree and price; the degree `1` is the bass note.
_MEMBERS: dict[str, tuple[tuple[str, float], ...]] = {
    "root": (("1", 0.0),),
    "again": (("1", 0.0), ("5", 4.0), ("3", 5.0)),
    "octave": (("1", 0.0), ("5", 4.0), ("3", 5.0)),
    "fifth": (("5", 0.0), ("1", 2.0), ("3", 3.0)),
    "third": (("3", 0.0), ("5", 2.0), ("1", 3.0)),
    "seventh": (("7", 0.0), ("5", 2.0), ("1", 3.0)),
    "chord": (("3", 0.0), ("5", 0.0), ("7", 0.3), ("1", 0.9)),
    "lasting": (("3", 0.0), ("5", 0.0), ("7", 0.8), ("1", 1.2)),
    "scale": (("3", 0.15), ("5", 0.15), ("7", 0.2), ("1", 0.9)),
    "skip": (("1", 0.0), ("5", 0.1), ("3", 0.6)),
}
_SCALE_TONE, _AVOIDED_IN_PASSING = 0.2, 0.5
_LIKED = 0.6

# Ways into the coming root: semitones over it.
_HALF_STEPS, _WHOLE_STEPS, _DOMINANT = (1, -1), (2, -2), 7
_HALF_STEP_INSIDE, _STRANGE_HALF_STEP = -0.4, 0.3
_WHOLE_STEP, _AVOIDED, _OTHER_THIRD = 1.0, 1.0, 8.0
_OWN_ROOT = 0.6
_DOMINANT_INSIDE, _DOMINANT_OUTSIDE, _SECOND_BEST = 0.9, 5.0, 2.0

LIKINGS = ("", "below", "above", "dominant", "whole", "3", "5", "7")
"""What the dice may make dearer to the player at one step: a way into the root, or a chord member."""
_LIKED_STEPS = {"below": (-1,), "above": (1,), "dominant": (7,), "whole": (2, -2)}


@lru_cache(maxsize=4096)
def repertoire(chord: Chord) -> Repertoire:
    """What a bass may play over a chord; found once for each chord."""
    return Repertoire(chord)


class Repertoire:
    """What a bass may play over one chord."""

    def __init__(self, chord: Chord) -> None:
        self._chord = chord
        self._found: dict[tuple[str, int | None, str, bool], Options] = {}

    def options(self, tone: str, target: int | None, liking: str, *, walks: bool) -> Options:
        """Pitches and prices for one word of a manner.

        Args:
            tone: a word of a manner, or `lasting`: beat one of a chord that goes on.
            target: pitch class of the coming root, for the words that lead there.
            liking: one of `LIKINGS`.
            walks: False where a slash bass stays what it is: it is the point of its chord.
        """
        asked = tone, target, liking, walks
        found = self._found.get(asked)
        if found is None:
            found = self._found[asked] = _options(self._chord, *asked)
        return found


def _options(chord: Chord, tone: str, target: int | None, liking: str, walks: bool) -> Options:
    bass = chord.bass.pitch_class
    if chord.bass != chord.root and not walks and tone in _MEMBERS:
        return _octaves({bass: 0.0}, _USUAL_HIGHEST)
    if tone == "root":
        return _octaves({bass: 0.0}, HIGHEST)
    found = dict.fromkeys(_tones(chord).values(), _LAST_RESORT) | {bass: _LAST_RESORT}
    leading = None if target is None else _leading(chord, tone, target, liking)
    found |= _belonging(chord, tone, liking) if leading is None else leading
    return _octaves(found, _USUAL_HIGHEST)


@lru_cache(maxsize=4096)
def encloses(chord: Chord, target: int) -> bool:
    """Whether a member of the chord, not its root, lies a half or whole step from the coming root."""
    return any(_around(tone, target) for degree, tone in _tones(chord).items() if degree != "1")


def _belonging(chord: Chord, tone: str, liking: str) -> dict[int, float]:
    tones = _tones(chord)
    found = {}
    if tone == "scale":
        avoided = {member.pitch_class for member in chord.avoid}
        found = {
            member.pitch_class: _AVOIDED_IN_PASSING if member.pitch_class in avoided else _SCALE_TONE
            for member in chord.scale
        }
    for degree, price in _MEMBERS.get(tone, _MEMBERS["chord"]):
        if degree in tones:
            found[tones[degree]] = price - _LIKED * (degree == liking)
    return found


def _leading(chord: Chord, tone: str, target: int, liking: str) -> dict[int, float] | None:
    """Prices of the ways into the coming root; None for a word that does not lead."""
    if tone == "enclosure":
        return _enclosing(chord, target)
    if tone not in {"approach", "chromatic", "dominant", "skip"}:
        return None
    found = _approaches(chord, target)
    if tone == "chromatic":
        wanted = {(target + step) % 12 for step in _HALF_STEPS}
    elif tone == "dominant":
        wanted = {(target + _DOMINANT) % 12}
        found[(target + _DOMINANT) % 12] = 0.0
    elif tone == "skip":
        found[chord.bass.pitch_class] = 0.2
        wanted = set(found)
    else:
        wanted = set(found)
        for step in _LIKED_STEPS.get(liking, ()):
            if (target + step) % 12 in found:
                found[(target + step) % 12] -= _LIKED
    return {pitch: price + _SECOND_BEST * (pitch not in wanted) for pitch, price in found.items()}


def _approaches(chord: Chord, target: int) -> dict[int, float]:
    """A half step above or below the target, a whole step that the scale has, or the fifth above it.

    Half steps sound stronger than whole ones, whatever the scale says ([BW3]); one that is a chord
    tone is best: the b5 of a half-diminished two over the root of the five, the third of the five under the
    root of the one ([BW6]). The chord's other third would say major under a minor chord, or minor under a
    major one. The fifth above leads as a dominant does (from memory).
    """
    scale = {member.pitch_class for member in chord.scale}
    members = {*_tones(chord).values(), *(tone.pitch_class for tone in chord.required)}
    half_steps = {(target + step) % 12 for step in _HALF_STEPS}
    found = {pitch: _HALF_STEP_INSIDE if pitch in members else _STRANGE_HALF_STEP for pitch in half_steps}
    found |= {(target + step) % 12: _WHOLE_STEP for step in _WHOLE_STEPS if (target + step) % 12 in scale}
    dominant = (target + _DOMINANT) % 12
    found[dominant] = _DOMINANT_INSIDE if dominant in members | scale else _DOMINANT_OUTSIDE
    for tone in chord.avoid:
        if tone.pitch_class in found:
            found[tone.pitch_class] += _AVOIDED
    if chord.bass.pitch_class in found:
        found[chord.bass.pitch_class] += _OWN_ROOT
    other_third = _other_third(chord)
    if other_third in found and other_third not in members:
        found[other_third] += _OTHER_THIRD
    return found


def _enclosing(chord: Chord, target: int) -> dict[int, float]:
    """One of the notes around the target, a member of the chord if there is one, else of its scale."""
    members, scale = set(_tones(chord).values()), {member.pitch_class for member in chord.scale}
    around = {(target + step) % 12 for step in (*_HALF_STEPS, *_WHOLE_STEPS)}
    found = dict.fromkeys(around & (scale | members), _SECOND_BEST)
    other_third = _other_third(chord)
    return {
        pitch: -_LIKED if pitch in members else price + _OTHER_THIRD * (pitch == other_third)
        for pitch, price in found.items()
    }


@lru_cache(maxsize=4096)
def _tones(chord: Chord) -> dict[str, int]:
    """Pitch classes of the bass note, as `1`, and of third, fifth and seventh where the chord has them."""
    found = {degree: chord.tone(degree) for degree in ("3", "5", "7")}
    tones = {degree: tone.pitch_class for degree, tone in found.items() if tone is not None}
    return {"1": chord.bass.pitch_class} | tones


def _around(pitch_class: int, target: int) -> bool:
    return (pitch_class - target) % 12 in {1, 2, 10, 11}


def _other_third(chord: Chord) -> int | None:
    """Pitch class of the major third under a minor chord, of the minor third under a major one."""
    third = next((tone for tone in chord.required if tone.degree == 3), None)
    return None if third is None else (third.pitch_class + (1 if third.alter else -1)) % 12


def _octaves(prices: dict[int, float], highest: int) -> Options:
    """Pitch classes in every octave of the register up to a note, dearer at its ends."""
    return tuple(
        (pitch, price + _register(pitch))
        for pitch_class, price in prices.items()
        for pitch in range(LOWEST + (pitch_class - LOWEST) % 12, highest + 1, 12)
    )


def _register(pitch: int) -> float:
    """Dearer towards the lowest string's end, and towards and above D3 (from memory: mostly below it)."""
    price = _TOO_LOW * max(0, _LOW - pitch) + _TOO_HIGH * max(0, pitch - _HIGH)
    return price + _FAR_TOO_HIGH * (pitch > _USUAL_HIGHEST)
