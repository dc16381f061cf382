"""Measures of the comp's rhythm: no bar too often, short and held, releases, pushes.

Patterns that come back by trade, and textures with a rhythm of their own, are no comping: they are left out.
"""

from __future__ import annotations

from collections.abc import Iterator

from introit.arrange.review.breach import Breach, plural, share
from introit.arrange.review.hearing import Hearing, Hit
from introit.units import TICKS_PER_QUARTER

Pattern = tuple[int, ...]


def same_rhythm(hearing: Hearing) -> Iterator[Breach]:
    """Swing: bars running with hits at the same places; an empty bar, or one chord held through, is none.

    A bar whose end is the pickup's has only what is left of its rhythm: that is no habit.
    """
    most = hearing.measures["same rhythm"].most
    if not hearing.swings:
        return
    free = set(hearing.struck_bars)
    running, before = 0, None
    for bar in range(hearing.plan.bars):
        whole = (bar + 1) * hearing.bar_ticks <= hearing.plan.pickup_tick
        pattern = _pattern(hearing, bar) if bar in free and whole else None
        running = running + 1 if pattern is not None and pattern == before else 1
        before = pattern
        if pattern is not None and running == int(most) + 1:
            beats = ", ".join(f"{tick / TICKS_PER_QUARTER + 1:g}" for tick in pattern)
            text = f"the same rhythm (beats {beats}) in {running} bars running; at most {most:g}"
            yield hearing.breach("same rhythm", bar * hearing.bar_ticks, text)


def short_hits(hearing: Hearing) -> Iterator[Breach]:
    """Swing: of the hits, those that are short."""
    bounds = hearing.measures["short hits"]
    length, hits = bounds.beats * TICKS_PER_QUARTER, _free_hits(hearing)
    short = [hit for hit in hits if hit.end - hit.onset <= length]
    yield from _too_few("short hits", "short", short, hits, hearing)


def held_hits(hearing: Hearing) -> Iterator[Breach]:
    """Swing: of the hits, those that are held."""
    bounds = hearing.measures["held hits"]
    length, hits = bounds.beats * TICKS_PER_QUARTER, _free_hits(hearing)
    held = [hit for hit in hits if hit.end - hit.onset >= length]
    yield from _too_few("held hits", "held", held, hits, hearing)


def releases(hearing: Hearing) -> Iterator[Breach]:
    """A hit ends in rhythm: on a division of the beat, or where the next hit, chord or the head begins."""
    grid = int(hearing.measures["release"].beats * TICKS_PER_QUARTER)
    third = TICKS_PER_QUARTER // 3
    events = {chord.end for chord in hearing.plan.chords} | {hit.onset for hit in hearing.hits}
    for hit in hearing.hits:
        if hit.end % grid and hit.end % third and hit.end not in events:
            beat = hit.end % hearing.bar_ticks / TICKS_PER_QUARTER + 1
            yield hearing.breach("release", hit.onset, f"comp: a hit ends at beat {beat:.2f}, out of rhythm")


def pushes(hearing: Hearing) -> Iterator[Breach]:
    """Swing: of the chord changes under free comping, those that the comp takes early."""
    bounds = hearing.measures["pushes"]
    if not hearing.swings:
        return
    free = set(hearing.struck_bars)
    changes = [chord.onset for chord in hearing.changes[1:] if chord.onset // hearing.bar_ticks in free]
    pushed = [tick for tick in changes if tick in _pushed(hearing)]
    if len(changes) < bounds.judged_from:
        return
    if not bounds.least <= share(len(pushed), len(changes)) <= bounds.most:
        text = (
            f"{len(pushed)} of {len(changes)} changes are pushed; "
            f"{bounds.least:g} to {bounds.most:g} percent are wanted"
        )
        yield hearing.breach("pushes", (pushed or changes)[0], text)


def pushes_in_a_ballad(hearing: Hearing) -> Iterator[Breach]:
    """Ballad: chord changes that the comp takes early."""
    most = hearing.measures["pushes in a ballad"].most
    pushed = sorted(_pushed(hearing) & {chord.onset for chord in hearing.changes})
    if hearing.plan.tune.feel in hearing.measures.ballads and len(pushed) > most:
        text = f"comp: {plural(len(pushed), 'change')} pushed in a ballad; at most {most:g}"
        yield hearing.breach("pushes in a ballad", pushed[int(most)], text)


def _pattern(hearing: Hearing, bar: int) -> Pattern | None:
    hits = hearing.hits_by_bar.get(bar, [])
    start = bar * hearing.bar_ticks
    if not hits or (len(hits) == 1 and hits[0].onset == start and _is_held_through(hearing, hits[0])):
        return None
    return tuple(hit.onset - start for hit in hits)


def _is_held_through(hearing: Hearing, hit: Hit) -> bool:
    """Whether it sounds until the last beat of its bar at least."""
    return hit.end - hit.onset >= hearing.bar_ticks - TICKS_PER_QUARTER


def _free_hits(hearing: Hearing) -> list[Hit]:
    free = set(hearing.struck_bars) if hearing.swings else set()
    return [hit for hit in hearing.hits if hit.onset // hearing.bar_ticks in free]


def _too_few(rule: str, word: str, found: list[Hit], hits: list[Hit], hearing: Hearing) -> Iterator[Breach]:
    bounds = hearing.measures[rule]
    if len(hits) >= bounds.judged_from and share(len(found), len(hits)) < bounds.least:
        other = next(hit for hit in hits if hit not in found)
        text = (
            f"{len(found)} of {len(hits)} hits are {word}, not this one; {bounds.least:g} percent are wanted"
        )
        yield hearing.breach(rule, other.onset, text)


def _pushed(hearing: Hearing) -> set[int]:
    """Onsets of the chords that a hit of the comp takes early."""
    return {hit.notes[0].harmony_tick for hit in hearing.hits if hit.onset < hit.notes[0].harmony_tick}


RULES = (same_rhythm, short_hits, held_hits, releases, pushes, pushes_in_a_ballad)
