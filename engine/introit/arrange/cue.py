"""What is sounded quietly before a tune, for whoever must hear the key: tonic and first chord, first note."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from introit.arrange.plan import Plan
from introit.arrange.score import CUE
from introit.performance import PlayedNote
from introit.theory.chord import Chord
from introit.theory.pitch import Tone, semitones_above
from introit.units import ticks_from_ms

LOWEST = 55
"""G3. Every tone begins in the octave from here, about middle C: above the bass, and where people hum."""
VELOCITY = 48
"""Quiet: mezzo-piano and below. A judgement, no source."""
SHORTEST_MS, LONGEST_MS = 400.0, 750.0
"""What a beat may last: a slow tune's tonic is soon told, a fast one's has still to be heard."""
RINGS = 1.5
"""Beats that the last sound lasts; with the tonic's one, at most 1.9 s in all."""


def cue_of(plan: Plan) -> tuple[PlayedNote, ...]:
    """The tonic, then the head's first chord, from tick 0 at the tune's tempo.

    The chord is in close position from its root: third, fifth and seventh (or sixth), without tensions and
    without another bass note.
    """
    beat = _beat(plan)
    tonic = _sounded([_about_middle_c(plan.key.tonic)], 0, beat)
    return (*tonic, *_sounded(_close(plan.head), beat, beat + round(beat * RINGS)))


def first_note_of(plan: Plan) -> tuple[PlayedNote, ...]:
    """The melody's first note, from tick 0; nothing where the tune does not name it."""
    name = plan.tune.first_note
    if name is None:
        return ()
    pitch = _about_middle_c(plan.key.degree_from_text(name))
    return _sounded([pitch], 0, round(_beat(plan) * RINGS))


def _beat(plan: Plan) -> int:
    """Ticks of the tune's beat, or as near to it as can be heard well."""
    lasts = min(max(60_000 / plan.tempo, SHORTEST_MS), LONGEST_MS)
    return ticks_from_ms(lasts, plan.tempo)


@lru_cache(maxsize=1024)
def _close(chord: Chord) -> tuple[int, ...]:
    """Root, third, fifth and seventh or sixth, as far as the chord has them, each above the root."""
    root = _about_middle_c(chord.root)
    members = [*chord.guide_tones, *([fifth] if (fifth := chord.tone("5")) else [])]
    return tuple(sorted({root, *(root + semitones_above(member.name) % 12 for member in members)}))


def _about_middle_c(tone: Tone) -> int:
    return LOWEST + (tone.pitch_class - LOWEST) % 12


def _sounded(pitches: Iterable[int], onset: int, end: int) -> tuple[PlayedNote, ...]:
    return tuple(PlayedNote(onset, end, onset, CUE, pitch, VELOCITY) for pitch in pitches)
