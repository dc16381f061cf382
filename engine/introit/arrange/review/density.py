"""Measures of density: hits a bar, voices a chord, how much the melody sounds."""

from __future__ import annotations

from collections.abc import Iterator

from introit.arrange.review.breach import Breach, plural, share
from introit.arrange.review.hearing import Hearing
from introit.arrange.score import ScoreNote
from introit.units import TICKS_PER_QUARTER

FULL = 5
"""A full grip has five or six voices."""
_WINDOW = 4


def hits_a_bar(hearing: Hearing) -> Iterator[Breach]:
    """Swing: the comp's hits a bar on the average, over the bars that are comped freely, but a pickup's."""
    bounds, free = hearing.measures["hits a bar"], hearing.struck_bars
    bars = [bar for bar in free if (bar + 1) * hearing.bar_ticks <= hearing.plan.pickup_tick]
    if not hearing.swings or len(bars) < bounds.judged_from:
        return
    counts = {bar: len(hearing.hits_by_bar[bar]) for bar in bars}
    mean = sum(counts.values()) / len(bars)
    if not bounds.least <= mean <= bounds.most:
        worst = max(bars, key=counts.__getitem__) if mean > bounds.most else min(bars, key=counts.__getitem__)
        text = f"{mean:.2f} hits a bar; {bounds.least:g} to {bounds.most:g} are wanted (here {counts[worst]})"
        yield hearing.breach("hits a bar", worst * hearing.bar_ticks, text)


def thin_bar(hearing: Hearing) -> Iterator[Breach]:
    """Swing: of every four bars that are comped freely, one has at most one hit, or one a new chord."""
    bounds = hearing.measures["thin bar"]
    if not hearing.swings:
        return
    free = set(hearing.struck_bars)
    for first in range(0, hearing.plan.bars - bounds.judged_from + 1, _WINDOW):
        window = range(first, first + bounds.judged_from)
        spare = [
            len(hearing.hits_by_bar[bar]) - max(bounds.most, _new_chords(hearing, bar)) for bar in window
        ]
        if free.issuperset(window) and min(spare) > 0:
            text = f"bars {first + 1} to {window[-1] + 1} all have more than {plural(bounds.most, 'hit')}"
            yield hearing.breach("thin bar", first * hearing.bar_ticks, text)


def _new_chords(hearing: Hearing, bar: int) -> int:
    """Chords that begin in a bar: each has to be heard."""
    first = bar * hearing.bar_ticks
    return sum(first <= chord.onset < first + hearing.bar_ticks for chord in hearing.plan.chords)


def melody_sounding(hearing: Hearing) -> Iterator[Breach]:
    """How much of the bars the melody sounds, from the first bar to the last."""
    bounds = hearing.measures["melody sounding"]
    bars = [bar for bar in range(hearing.plan.bars) if _texture(hearing, bar) not in bounds.apart]
    if len(bars) < bounds.judged_from:
        return
    ticks = hearing.bar_ticks
    sounding = sum(_covered(hearing.melody, bar * ticks, (bar + 1) * ticks) for bar in bars)
    if share(sounding, len(bars) * ticks) > bounds.most:
        text = (
            f"the melody sounds {share(sounding, len(bars) * ticks):.0f} percent of the time; "
            f"at most {bounds.most:g} may be"
        )
        yield hearing.breach("melody sounding", hearing.melody[0].onset, text)


def melody_rest(hearing: Hearing) -> Iterator[Breach]:
    """The melody's longest silence in every two bars, bars 1 and 2 and so on."""
    bounds, ticks = hearing.measures["melody rest"], hearing.bar_ticks
    for first in range(0, hearing.plan.bars - bounds.judged_from + 1, bounds.judged_from):
        if _texture(hearing, first) in bounds.apart:
            continue
        start, end = first * ticks, (first + bounds.judged_from) * ticks
        rest = _longest_silence(hearing.melody, start, end)
        if rest < bounds.least * TICKS_PER_QUARTER:
            text = (
                f"the melody rests at most {plural(rest / TICKS_PER_QUARTER, 'beat')} in bars {first + 1} to "
                f"{first + bounds.judged_from}; {plural(bounds.least, 'beat')} at once is wanted"
            )
            yield hearing.breach("melody rest", start, text)


def phrases_off_one(hearing: Hearing) -> Iterator[Breach]:
    """Of the melody's phrases, those that begin elsewhere than on beat 1.

    A motif begins where it was written, and every return of it there again: that is one choice, not a habit.
    The way to the tune's first note begins where that asks for it.
    """
    bounds, plan = hearing.measures["phrases off one"], hearing.plan
    phrases = [one for one in hearing.phrases if one[0].onset < plan.arc_tick or not plan.leads_in]
    if len(phrases) < bounds.judged_from or hearing.plan.intro.melody.has_motif:
        return
    on_one = [phrase for phrase in phrases if phrase[0].onset % hearing.bar_ticks == 0]
    if share(len(phrases) - len(on_one), len(phrases)) < bounds.least:
        text = (
            f"{len(on_one)} of {len(phrases)} phrases begin on beat 1, here first; "
            f"{bounds.least:g} percent are wanted elsewhere"
        )
        yield hearing.breach("phrases off one", on_one[0][0].onset, text)


def voices_a_chord(hearing: Hearing) -> Iterator[Breach]:
    """Voices in a hit of the comp, on the average over its hits."""
    bounds, hits = hearing.measures["voices a chord"], hearing.hits
    if len(hits) < bounds.judged_from:
        return
    mean = sum(len(hit.notes) for hit in hits) / len(hits)
    if mean > bounds.most:
        fullest = max(hits, key=lambda hit: len(hit.notes))
        text = (
            f"{mean:.2f} voices a chord on the average; at most {bounds.most:g} (here {len(fullest.notes)})"
        )
        yield hearing.breach("voices a chord", fullest.onset, text)


def full_grips(hearing: Hearing) -> Iterator[Breach]:
    """Chords that the comp ever sounds with five or six voices at once."""
    most = hearing.measures["full grips"].most
    full = {
        hit.notes[0].harmony_tick: hit.onset for hit in reversed(hearing.onsets) if len(hit.notes) >= FULL
    }
    if len(full) > most:
        text = f"{plural(len(full), 'chord')} have five or six voices; at most {most:g} may"
        yield hearing.breach("full grips", sorted(full.values())[int(most)], text)


def _texture(hearing: Hearing, bar: int) -> str:
    return hearing.texture_at(bar * hearing.bar_ticks)


def _covered(notes: list[ScoreNote], start: int, end: int) -> int:
    """Ticks within a stretch in which any of the notes sounds; notes by onset."""
    total, reached = 0, start
    for note in notes:
        begin, stop = max(note.onset, reached), min(note.end, end)
        if stop > begin:
            total += stop - begin
            reached = stop
    return total


def _longest_silence(notes: list[ScoreNote], start: int, end: int) -> int:
    longest, reached = 0, start
    for note in notes:
        if note.end > start and note.onset < end:
            longest = max(longest, note.onset - reached)
            reached = max(reached, note.end)
    return max(longest, end - reached)


RULES = (hits_a_bar, thin_bar, melody_sounding, melody_rest, phrases_off_one, voices_a_chord, full_grips)
