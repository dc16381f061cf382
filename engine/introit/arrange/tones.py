"""What a part may play on a chord: the tones on offer, less those that would contradict its name."""

from __future__ import annotations

from functools import lru_cache

from introit.theory.chord import Chord, ChordTone
from introit.theory.quality import Family

MINOR_NINTHS = frozenset({1, 13, 25, 37})
"""Semitones over a lower note that rub against it: [TP1] calls a note that far over a chord tone one to
avoid."""

_DARK = frozenset({"b9", "#9", "b13"})
_TONIC_MINOR = frozenset({"m6", "m6/9", "m(maj7)", "m(maj9)"})


@lru_cache(maxsize=4096)
def offered(chord: Chord) -> tuple[ChordTone, ...]:
    """The chord's optional tones, the most usual first, without those that would make it another chord.

    A suspended dominant, or one with a natural 9 or 13 in its name, takes no altered ninth or b13 that is not
    written: `V7sus4` must stay apart from `V7sus4(b9)`, and `V13` from `V13(b9)`.
    """
    names = {tone.name for tone in chord.required}
    bright = chord.kind.family is Family.SUSPENDED or bool(names & {"9", "13"})
    if not (chord.is_dominant and bright) or names & _DARK:
        return chord.optional
    return tuple(tone for tone in chord.optional if tone.name not in _DARK)


def is_tonic_minor(chord: Chord) -> bool:
    """True for a minor chord with a sixth or a major seventh: the forms of a minor tonic.

    There the fifth belongs to the sound, and an eleventh beside the sixth sounds like the dominant on four.
    """
    return chord.quality in _TONIC_MINOR
