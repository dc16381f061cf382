"""How a note is spelled: as a member of its chord, then of its key, then by the note that it leans on.

What leads up by a half step is raised and what leads down is lowered, so that the two stand on a line and the
space beside it, and neither cancels the other's accidental. E#, B#, Cb and Fb are met so only where the key
has signs enough to make them look at home. What leads nowhere is called as in the chord's scale. A sharp nine
that the key has as its flat third is written as that: the eye reads the key. But a grip on a root that the
key does not have is read by itself: the ninth of a B13 in Db is a C#, beside its D# (common practice, no
source).

A double sharp or flat is written as the plain note, for a page is read at sight (common practice, no source).
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from introit.theory.chord import Chord
from introit.theory.key import Key
from introit.theory.pitch import LETTERS, Tone

_SIGNS_FOR_WHITE_KEYS = 4
"""Sharps from which E# and B# are met, and flats from which Cb and Fb are. Judgement, no source."""


class Following(NamedTuple):
    """The note that follows in a voice: its pitch and its name."""

    pitch: int
    tone: Tone


def spelled(
    pitch: int, chord: Chord, key: Key, *, goes_to: Following | None = None, in_grip: bool = False
) -> Tone:
    """The name of a note.

    Args:
        pitch: MIDI note number.
        chord: the one it belongs to.
        key: the key.
        goes_to: what follows in its voice; None for nothing.
        in_grip: whether it is struck with others of its chord, and is read with them rather than as a line.
    """
    names = [tone for tone in _NAMES if tone.pitch_class == pitch % 12]
    member = _members(chord).get(pitch % 12)
    in_key = next((tone for tone in names if key.holds(tone)), None)
    colour = _colours(chord).get(pitch % 12)
    if member is None and colour in _PLAIN and in_grip and not key.holds(chord.root):
        return colour
    found = member or in_key or _leaning(pitch, names, key, goes_to) or colour
    if found is not None:
        return key.plainest(found) if abs(found.alter) > 1 else found
    wanted = 1 if goes_to is None or goes_to.pitch > pitch else -1
    return min(names, key=lambda name: (abs(name.alter), name.alter != wanted))


def _leaning(pitch: int, names: list[Tone], key: Key, goes_to: Following | None) -> Tone | None:
    """The name on the line or space next to that of the note a half step away; None where there is none."""
    if goes_to is None or abs(goes_to.pitch - pitch) != 1:
        return None
    up = goes_to.pitch > pitch
    letter = LETTERS[(LETTERS.index(goes_to.tone.letter) + (-1 if up else 1)) % len(LETTERS)]
    found = next((name for name in names if name.letter == letter), None)
    if found is None or (found.alter and found not in _BLACK_KEYS and not _has_signs(key, found.alter)):
        return None
    return found


def _has_signs(key: Key, alter: int) -> bool:
    return key.signature * alter >= _SIGNS_FOR_WHITE_KEYS


_NAMES = [Tone(letter, alter) for letter in LETTERS for alter in (0, 1, -1)]
_WHITE = {name.pitch_class for name in _NAMES if not name.alter}
_BLACK_KEYS = frozenset(name for name in _NAMES if name.pitch_class not in _WHITE)
_PLAIN = frozenset(name for name in _NAMES if not name.alter) | _BLACK_KEYS


@lru_cache(maxsize=4096)
def _members(chord: Chord) -> dict[int, Tone]:
    """Names of what is written in its symbol, by pitch class."""
    names = (chord.bass, *(tone.tone for tone in chord.required))
    return {tone.pitch_class: tone for tone in reversed(names)}


@lru_cache(maxsize=4096)
def _colours(chord: Chord) -> dict[int, Tone]:
    """Names of what else it has, by pitch class."""
    names = (*(tone.tone for tone in (*chord.optional, *chord.avoid)), *chord.scale)
    return {tone.pitch_class: tone for tone in reversed(names)}
