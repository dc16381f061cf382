"""How a note is spelled: as a member of its chord, then of its key, then of the chord's scale.

What is in none is raised where it rises and lowered where it falls. A sharp nine that the key has as its flat
third is written as that: the eye reads the key (common practice, no source).

A double sharp or flat is written as the plain note, for a page is read at sight (common practice, no source).
"""

from __future__ import annotations

from functools import lru_cache

from introit.theory.chord import Chord
from introit.theory.key import Key
from introit.theory.pitch import LETTERS, Tone


def spelled(pitch: int, chord: Chord, key: Key, *, goes_to: int | None = None) -> Tone:
    """The name of a note.

    Args:
        pitch: MIDI note number.
        chord: the one it belongs to.
        key: the key.
        goes_to: the pitch that follows in its voice; None for none.
    """
    names = [tone for tone in _NAMES if tone.pitch_class == pitch % 12]
    member = _members(chord).get(pitch % 12)
    in_key = next((tone for tone in names if key.holds(tone)), None)
    found = member or in_key or _colours(chord).get(pitch % 12)
    if found is not None:
        return key.plainest(found) if abs(found.alter) > 1 else found
    wanted = 1 if goes_to is None or goes_to > pitch else -1
    return min(names, key=lambda name: (abs(name.alter), name.alter != wanted))


_NAMES = [Tone(letter, alter) for letter in LETTERS for alter in (0, 1, -1)]


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
