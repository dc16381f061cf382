"""Rules of register: ranges, low-interval limits across the parts, the comp over the bass, its roots."""

from __future__ import annotations

from collections.abc import Iterator

from introit.arrange.review.breach import Breach, pitch_name, said
from introit.arrange.review.hearing import Hearing
from introit.arrange.score import COMP, ScoreNote, Touch
from introit.performance import PARTS
from introit.theory.chord import Chord
from introit.theory.limits import LOW_INTERVAL_LIMITS, too_low
from introit.theory.quality import Family
from introit.units import TICKS_PER_QUARTER

_INTERVALS = (
    "unison", "minor second", "major second", "minor third", "major third", "fourth", "tritone", "fifth",
    "minor sixth", "major sixth", "minor seventh", "major seventh", "octave", "minor ninth", "major ninth",
    "minor tenth", "major tenth",
)  # fmt: skip
SHORTEST = TICKS_PER_QUARTER // 8
"""A 32nd: 62 ms at 120 (judgement, no source)."""
_ALONE = frozenset({Family.DIMINISHED, Family.HALF_DIMINISHED})


def ranges(hearing: Hearing) -> Iterator[Breach]:
    """Each part stays where it can be played; what lies on a guitar's neck is held to the neck."""
    for note in hearing.notes:
        if note.string is not None:
            continue
        low, high = hearing.measures.ranges[PARTS[note.part]]
        if not low <= note.pitch <= high:
            text = f"{said(note)} is outside {pitch_name(low)} to {pitch_name(high)}"
            yield hearing.breach("range", note.onset, text)


def lengths(hearing: Hearing) -> Iterator[Breach]:
    """A note lasts long enough to be heard as one; ornaments are short by trade."""
    for note in hearing.notes:
        if note.length < SHORTEST and note.touch is not Touch.ORNAMENT:
            text = f"{said(note)} lasts {note.length} ticks; {SHORTEST} at least is wanted"
            yield hearing.breach("length", note.onset, text)


def low_intervals(hearing: Hearing) -> Iterator[Breach]:
    """Two notes turn to mud below the limit of their interval, whichever parts they are in."""
    for tick, low, high in hearing.pairs:
        if too_low(low.pitch, high.pitch):
            interval = high.pitch - low.pitch
            limit = pitch_name(LOW_INTERVAL_LIMITS[interval])
            text = f"{_under(low, high)} is below the limit of a {_INTERVALS[interval]} ({limit})"
            yield hearing.breach("low interval", tick, text)


def clashes(hearing: Hearing) -> Iterator[Breach]:
    """A minor ninth grates, but for a dominant's own b9 over its root and over a declared pedal point."""
    for tick, low, high in hearing.pairs:
        interval = high.pitch - low.pitch
        if interval not in (1, 13, 25, 37) or Touch.ORNAMENT in (low.touch, high.touch):
            continue
        if (interval == 1 and low.part == high.part == COMP) or _may_grate(hearing, low, high):
            continue
        octaves = {1: "minor second", 13: "minor ninth"}.get(interval, "minor ninth and octaves")
        yield hearing.breach("clash", tick, f"{_under(low, high)} is a {octaves}")


def comp_floor(hearing: Hearing) -> Iterator[Breach]:
    """With a bass player the comp keeps out of the bass register: no lower than C3."""
    lowest = hearing.scene.seats.lowest
    if hearing.scene.seats.bass:
        for note in hearing.parts[COMP]:
            if note.pitch < lowest:
                text = f"comp: {pitch_name(note.pitch)} is below {pitch_name(lowest)}"
                yield hearing.breach("comp floor", note.onset, text)


def over_the_bass(hearing: Hearing) -> Iterator[Breach]:
    """With a bass player the comp lies at least a fifth over the bass."""
    seats = hearing.scene.seats
    if not seats.bass:
        return
    for low in hearing.low_notes:
        over = [note for note in hearing.parts[COMP] if note.onset < low.end and low.onset < note.end]
        for note in over:
            if note.pitch - low.pitch < seats.over_bass:
                text = f"{_under(low, note)} is closer than {seats.over_bass} semitones"
                yield hearing.breach("over the bass", max(low.onset, note.onset), text)


def roots(hearing: Hearing) -> Iterator[Breach]:
    """With a bass player the comp leaves out the root that the bass plays ([RL], [Ke02])."""
    if not hearing.scene.seats.bass:
        return
    apart = hearing.measures["roots"].apart
    for hit in hearing.onsets:
        for note in hit.notes:
            if hit.texture not in apart and _root_in_bass(hearing, note):
                symbol = hearing.chord(note).symbol
                text = f"comp: {pitch_name(note.pitch)} is the root of {symbol}, which the bass plays"
                yield hearing.breach("root", hit.onset, text)


def _root_in_bass(hearing: Hearing, note: ScoreNote) -> bool:
    chord, planned = hearing.chord(note), hearing.planned(note)
    root = chord.root.pitch_class
    pedal = planned.pedal if planned else None
    under = (pedal or chord.bass).pitch_class
    return note.pitch % 12 == root == under and not needs_its_root(chord)


def needs_its_root(chord: Chord) -> bool:
    """Whether a chord has too little else: a triad, a sixth, a diminished or a bare suspended chord."""
    third_and_seventh = {tone.name for tone in chord.guide_tones}
    if len(chord.guide_tones) < 2 or third_and_seventh & {"6", "bb7"}:
        return True
    bare = chord.kind.family is Family.SUSPENDED and len(chord.required) == 3
    return bare or chord.kind.family in _ALONE


def _may_grate(hearing: Hearing, low: ScoreNote, high: ScoreNote) -> bool:
    if low.pitch + 1 == high.pitch:
        return False
    planned = hearing.planned(low)
    if planned is None:
        return False
    if planned.pedal is not None and planned.pedal.pitch_class == low.pitch % 12 and low.part != COMP:
        return True
    root = planned.chord.root.pitch_class
    if low.pitch % 12 != root or not planned.chord.is_dominant:
        return False
    over = hearing.chord(high)  # another dominant on that root, whose b9 comes early; or it belongs to both
    same_root = over.is_dominant and over.root.pitch_class == root
    return same_root or all(
        high.pitch % 12 in {tone.pitch_class for tone in (*chord.required, *chord.optional)}
        for chord in (planned.chord, over)
    )


def _under(low: ScoreNote, high: ScoreNote) -> str:
    parts = PARTS[high.part] if low.part == high.part else f"{PARTS[high.part]} and {PARTS[low.part]}"
    return f"{parts}: {pitch_name(low.pitch)} under {pitch_name(high.pitch)}"


RULES = (ranges, lengths, low_intervals, clashes, comp_floor, over_the_bass, roots)
