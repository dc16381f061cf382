"""Which tones a chord can bear on top, and what it gives up for them.

A chord bears a tone that it has, or has on offer, where nothing lies a half step under it that cannot be
left out: the note on top would rub against it, or lie a minor ninth over it. A major seventh gives way to the
sixth under the root, which makes maj7 a 6/9; a fifth gives way to a b13, as on a minor seventh chord on three
with the tonic on top. Thirds, roots and bass notes stay: then the chord cannot bear the tone. Common
practice, no source; that a held top note unifies an introduction: [IN2].
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from introit.arrange.tones import offered
from introit.theory.chord import Chord, ChordTone
from introit.theory.pitch import Tone

_MINOR_THIRD, _FLAT_THIRTEENTH, _SIXTH, _MAJOR_SEVENTH = 3, 8, 9, 11


class Change(NamedTuple):
    """What a chord does to bear a tone; nothing where both sets are empty.

    Attributes:
        without: pitch classes that it leaves out.
        with_: pitch classes that it takes in their place.
    """

    without: frozenset[int] = frozenset()
    with_: frozenset[int] = frozenset()


@lru_cache(maxsize=4096)
def bearing(chord: Chord, pedal: Tone | None = None) -> tuple[Change | None, ...]:
    """For each pitch class what the chord changes to bear it on top; None where it cannot.

    Args:
        chord: the chord.
        pedal: the pedal point's note under it, which may lie a minor ninth under anything.
    """
    return tuple(_change(chord, pedal, pitch_class) for pitch_class in range(12))


def _change(chord: Chord, pedal: Tone | None, top: int) -> Change | None:
    members = (*chord.required, *offered(chord))
    if all(tone.pitch_class != top for tone in members) and not _replaces_fifth(chord, top):
        return None
    under = (top - 1) % 12
    own_flat_nine = chord.is_dominant and under == chord.root.pitch_class
    if pedal is None and under == chord.bass.pitch_class and not own_flat_nine:
        return None
    clashing = [tone for tone in members if tone.pitch_class == under]
    if not clashing or own_flat_nine:
        return Change()
    return _given_up(chord, clashing[0])


def _replaces_fifth(chord: Chord, top: int) -> bool:
    """Whether a tone is the b13 of a minor chord, which may stand for its fifth."""
    root = chord.root.pitch_class
    minor = any(tone.pitch_class == (root + _MINOR_THIRD) % 12 for tone in chord.guide_tones)
    fifth = any(tone.degree == 5 and tone.alter == 0 for tone in (*chord.required, *chord.optional))
    return minor and fifth and (top - root) % 12 == _FLAT_THIRTEENTH


def _given_up(chord: Chord, tone: ChordTone) -> Change | None:
    """The change that leaves one tone out; None where the chord would not be told without it."""
    root = chord.root.pitch_class
    without = frozenset({tone.pitch_class})
    if (tone.pitch_class - root) % 12 == _MAJOR_SEVENTH and tone in chord.guide_tones:
        return Change(without, frozenset({(root + _SIXTH) % 12}))
    if tone.degree == 1 or tone in chord.guide_tones:
        return None
    return Change(without)
