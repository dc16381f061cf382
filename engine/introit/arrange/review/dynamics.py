"""Measures of loudness, on the performance: a range in each part, one arc, the top voice over its grip.

Ornaments are short and soft by trade: they say nothing of how loud a part or a bar is.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from statistics import fmean

from introit.arrange.review.breach import Breach, plural
from introit.arrange.review.hearing import Hearing
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, Touch
from introit.performance import PARTS, PlayedNote
from introit.units import TICKS_PER_QUARTER

AHEAD = TICKS_PER_QUARTER // 8
"""Ticks that feel may take a note ahead of its beat, at most: far less than a push is early."""
_PITCHED = (MELODY, COMP, BASS, PEDAL)
_GRIP = 3
"""A grip has three voices at least: of two, one is as much a line as the other."""


def dynamic_range(hearing: Hearing) -> Iterator[Breach]:
    """Velocity units between a part's softest and its loudest note."""
    bounds = hearing.measures["dynamic range"]
    for part, notes in _plain_by_part(hearing).items():
        levels = [note.velocity for note in notes]
        reach = max(levels) - min(levels)
        if len(notes) >= bounds.judged_from and reach < bounds.least:
            text = (
                f"{PARTS[part]}: {reach} velocity units from softest to loudest; {bounds.least:g} are wanted"
            )
            yield hearing.breach("dynamic range", notes[0].onset, text)


def one_arc(hearing: Hearing) -> Iterator[Breach]:
    """The bars' mean level, each part against its own mean, rises once and falls once, or nearly so.

    What is played a hair before the bar line is the first beat all the same.
    """
    bounds = hearing.measures["one arc"]
    by_bar: dict[int, list[float]] = defaultdict(list)
    for notes in _plain_by_part(hearing).values():
        usual = fmean(note.velocity for note in notes)
        for note in notes:
            bar = (max(0, note.onset) + AHEAD) // hearing.bar_ticks
            by_bar[min(bar, hearing.plan.bars - 1)].append(note.velocity - usual)
    bars = sorted(by_bar)
    levels = [fmean(by_bar[bar]) for bar in bars]
    if len(bars) < bounds.judged_from:
        return
    dips = [min(max(levels[:at]), max(levels[at + 1 :])) - levels[at] for at in range(1, len(levels) - 1)]
    if max(dips) > bounds.most:
        at = dips.index(max(dips)) + 1
        text = f"the level dips by {max(dips):.0f} velocity units between two rises; at most {bounds.most:g}"
        yield hearing.breach("one arc", bars[at] * hearing.bar_ticks, text)


def top_voice_level(hearing: Hearing) -> Iterator[Breach]:
    """How far a grip's top voice is over the mean of its others, on the average over the comp's hits.

    Where one pair of hands sounds a melody note with the grip, the top voice is that note, not the comp's.
    """
    bounds = hearing.measures["top voice level"]
    velocities = _velocities(hearing)
    sung = {note.onset for note in hearing.melody if hearing.scene.seats.one_pair_of_hands}
    over: list[float] = []
    first = 0
    for hit in hearing.hits:
        found = [velocities.get((note.onset, note.pitch)) for note in hit.notes]
        levels = [level for level in found if level is not None]
        if len(levels) == len(found) >= _GRIP and hit.onset not in sung:
            first = first if over else hit.onset
            over.append(levels[-1] - fmean(levels[:-1]))
    if len(over) < bounds.judged_from:
        return
    mean = fmean(over)
    if not bounds.least <= mean <= bounds.most:
        text = (
            f"comp: the top voice is {mean:.1f} velocity units over its {plural(len(over), 'grip')}; "
            f"{bounds.least:g} to {bounds.most:g} are wanted"
        )
        yield hearing.breach("top voice level", first, text)


def _by_part(hearing: Hearing) -> dict[int, list[PlayedNote]]:
    found: dict[int, list[PlayedNote]] = defaultdict(list)
    if hearing.performance is not None:
        for note in hearing.performance.notes:
            if note.part in _PITCHED:
                found[note.part].append(note)
    return found


def _plain_by_part(hearing: Hearing) -> dict[int, list[PlayedNote]]:
    """The same without ornaments: of the played notes of their pitch and chord, those nearest to them."""
    found = _by_part(hearing)
    for written in hearing.notes:
        if written.touch is Touch.ORNAMENT:
            notes = found.get(written.part, [])
            own = (written.pitch, written.harmony_tick)
            same = [note for note in notes if (note.pitch, note.harmony_tick) == own]
            if same:
                notes.remove(min(same, key=lambda note: abs(note.onset - written.onset)))
    return {part: notes for part, notes in found.items() if notes}


def _velocities(hearing: Hearing) -> dict[tuple[int, int], int]:
    """Velocity of the comp's notes by written onset and pitch.

    Feel moves a note, but leaves the notes of one pitch and chord in their order; where a unison was merged
    their numbers differ, and they are left out.
    """
    played: dict[tuple[int, int], list[int]] = defaultdict(list)
    for note in _by_part(hearing).get(COMP, []):
        played[note.harmony_tick, note.pitch].append(note.velocity)
    written: dict[tuple[int, int], list[int]] = defaultdict(list)
    for each in hearing.parts[COMP]:
        written[each.harmony_tick, each.pitch].append(each.onset)
    return {
        (onset, pitch): velocity
        for (harmony, pitch), onsets in written.items()
        if len(onsets) == len(played[harmony, pitch])
        for onset, velocity in zip(onsets, played[harmony, pitch], strict=True)
    }


RULES = (dynamic_range, one_arc, top_voice_level)
