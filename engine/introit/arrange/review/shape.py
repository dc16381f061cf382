"""Measures of shape: one highest note, one densest chord, one plain shell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from introit.arrange.review.breach import Breach, pitch_name, plural, share
from introit.arrange.review.hearing import Hearing, Hit
from introit.arrange.score import ScoreNote
from introit.theory.chord import Chord
from introit.theory.quality import Family

_PLAIN_FIFTH = 7
_FIFTH = 5
_PAIR, _SHELL = 2, 3
_HELD_ON_TOP = "common tone"
"""Texture whose top voice is one tone held throughout, like a melody: the grip is what lies under it."""


def highest_note(hearing: Hearing) -> Iterator[Breach]:
    """The highest note of melody and comp: in one chord only, and late, but not last.

    It is late where it comes so far into what is the intro's own: the pickup is the tune's, and so are the
    notes that lead to its first one; a melody that sings nothing else so late has no place for a peak. A
    landing's chord is the head's, pushed or not. A motif's top returns with the motif, and a common tone on
    top is the highest throughout: neither is judged.
    """
    bounds, plan = hearing.measures["highest note"], hearing.plan
    upper = [note for note in [*hearing.melody, *hearing.comp] if note.harmony_tick < plan.head_tick]
    if plan.bars < bounds.judged_from or plan.intro.melody.has_motif or not upper:
        return
    late = bounds.least / 100 * plan.arc_tick
    if (
        plan.leads_in
        and hearing.melody
        and not any(late <= note.onset < plan.arc_tick for note in hearing.melody)
    ):
        return
    top = max(note.pitch for note in upper)
    peaks = sorted(note for note in upper if note.pitch == top)
    if any(hearing.texture_at(note.onset) in bounds.apart for note in peaks):
        return
    first = peaks[0]
    again = next((note for note in peaks if note.harmony_tick != first.harmony_tick), None)
    if again is not None:
        text = f"{pitch_name(top)}, the highest note, comes back in another chord"
        yield hearing.breach("highest note", again.onset, text)
    at = share(first.onset, plan.head_tick)
    if at > bounds.most or share(first.onset, plan.arc_tick) < bounds.least:
        text = (
            f"{pitch_name(top)}, the highest note, comes at {at:.0f} percent of the length; "
            f"{bounds.least:g} to {bounds.most:g} are wanted"
        )
        yield hearing.breach("highest note", first.onset, text)


def densest_tension(hearing: Hearing) -> Iterator[Breach]:
    """No chord sounds more tensions at once in the comp than the last dominant does.

    Where the tune's pickup takes a part of that one, it is thin by trade, and nothing is asked; nor where a
    guitar alone sings over it, for the fingers are the melody's. What the melody has of its tensions
    counts as one more, for the comp need not double it.
    """
    bounds, plan = hearing.measures["densest tension"], hearing.plan
    dominants = [planned.onset for planned in plan.chords if planned.chord.is_dominant]
    if len(plan.chords) < bounds.judged_from or not dominants:
        return
    end = plan.chords[plan.at(dominants[-1])].end
    sings = any(note.onset < end and note.end > dominants[-1] for note in hearing.melody)
    if end > plan.pickup_tick or (sings and hearing.scene.seats.one_pair_of_hands):
        return
    most: dict[int, int] = {}
    for hit in hearing.onsets:
        tick = hit.notes[0].harmony_tick
        most[tick] = max(most.get(tick, 0), tensions(hit, hearing.chord(hit.notes[0])))
    sung = {note.pitch % 12 for note in hearing.melody if dominants[-1] <= note.onset < end}
    last = most.get(dominants[-1], 0) + bool(_tense(sung, plan.chords[plan.at(dominants[-1])].chord))
    for tick in sorted(most):
        if most[tick] > last and tick < plan.head_tick and tick != dominants[-1]:
            symbol = hearing.plan.chords[hearing.plan.at(tick)].chord.symbol
            text = f"{symbol} sounds {plural(most[tick], 'tension')}, the last dominant {last}"
            yield hearing.breach("densest tension", tick, text)


def plain_shell(hearing: Hearing) -> Iterator[Breach]:
    """Hits of the comp that have root, third and seventh or sixth alone, at least two of them.

    In one pair of hands the thumb's note belongs to the grip.
    """
    bounds, hits = hearing.measures["plain shell"], hearing.hits
    if len(hits) < bounds.judged_from:
        return
    shells = sum(is_shell(hit, hearing.chord(hit.notes[0]), _thumb(hearing, hit)) for hit in hits)
    if shells < bounds.least:
        thinnest = min(hits, key=lambda hit: len(hit.notes))
        text = f"{plural(shells, 'hit')} of {len(hits)} a plain shell; {bounds.least:g} at least is wanted"
        yield hearing.breach("plain shell", thinnest.onset, text)


def tensions(hit: Hit, chord: Chord) -> int:
    """How many different tensions of a chord a hit sounds: neither root, guide tone nor fifth.

    An altered fifth is a tension where the chord is a dominant; in other chords it is the chord's own fifth.
    """
    return len(_tense({note.pitch % 12 for note in hit.notes}, chord))


def _tense(classes: set[int], chord: Chord) -> set[int]:
    root = chord.root.pitch_class
    plain = {root, (root + _PLAIN_FIFTH) % 12, *(tone.pitch_class for tone in chord.guide_tones)}
    if not chord.is_dominant:
        plain |= {tone.pitch_class for tone in chord.required if tone.degree in {5, 7}}
    return classes - plain


def is_shell(hit: Hit, chord: Chord, thumb: Sequence[ScoreNote] = ()) -> bool:
    """Whether a hit is root and guide tones alone, under the tone on top where one is held through all.

    A half-diminished chord's shell may have its flat five, which tells it, in the place of one of them: it is
    three notes at most.

    Args:
        hit: the hit.
        chord: the chord that it sounds.
        thumb: bass notes of the same hands that sound with it; it may be a shell with them or without.
    """
    shell = {chord.root.pitch_class, *(tone.pitch_class for tone in chord.guide_tones)}
    if chord.kind.family is Family.HALF_DIMINISHED:
        shell |= {tone.pitch_class for tone in chord.required if tone.degree == _FIFTH}
    grip = hit.notes[:-1] if hit.texture == _HELD_ON_TOP and len(hit.notes) > _PAIR else hit.notes
    return any(
        1 < len(classes) <= _SHELL and classes <= shell
        for classes in ({note.pitch % 12 for note in notes} for notes in (grip, (*grip, *thumb)))
    )


def _thumb(hearing: Hearing, hit: Hit) -> list[ScoreNote]:
    """What the thumb sounds with a hit, where one pair of hands plays both."""
    if not hearing.scene.seats.one_pair_of_hands:
        return []
    return [note for note in hearing.low_notes if note.onset <= hit.onset < note.end]


RULES = (highest_note, densest_tension, plain_shell)
