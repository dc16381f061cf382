"""How a note is spelled: as a tone of its chord, then of its key, then by where it goes.

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
    found = _of_chord(chord).get(pitch % 12)
    if found is not None:
        return key.plainest(found) if abs(found.alter) > 1 else found
    names = [tone for tone in _NAMES if tone.pitch_class == pitch % 12]
    wanted = 1 if goes_to is None or goes_to > pitch else -1
    return min(names, key=lambda name: (not key.holds(name), abs(name.alter), name.alter != wanted))


_NAMES = [Tone(letter, alter) for letter in LETTERS for alter in (0, 1, -1)]


@lru_cache(maxsize=4096)
def _of_chord(chord: Chord) -> dict[int, Tone]:
    """Names by pitch class; a chord's own tones before those of its scale."""
    tones = (tone.tone for tone in (*chord.required, *chord.optional))
    names = (chord.bass, chord.root, *tones, *chord.scale, *(tone.tone for tone in chord.avoid))
    return {tone.pitch_class: tone for tone in reversed(names)}
