"""Harmonised arpeggio: runs through triads, each note joined by a member below it, into the next chord."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from random import Random
from typing import NamedTuple

from introit.arrange.scene import Scene
from introit.arrange.score import COMP, MELODY, ScoreNote
from introit.arrange.shifting import REST
from introit.arrange.textures.arpeggio_runs import HIGHEST, Run, run_of
from introit.arrange.textures.crown import Crown, crown_over, crowned, places_in, tops_beside
from introit.arrange.textures.held_runs import Struck, held_runs
from introit.arrange.textures.neck import Held
from introit.arrange.textures.room import (
    BEAT,
    BELOW_PEAK,
    EIGHTH,
    FAST,
    SLOW,
    Span,
    bars_of,
    clear_of_bass,
    is_last_bar,
    led_from,
    on_guitar,
    quiet_from,
    reach_of,
    set_up,
    sounded,
)
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish
from introit.theory.chord import Chord

TRIPLET = BEAT // 3
_MOST_NOTES = 6
_TASTES = 20
_GRIP_CEILING = 70
"""Bb4: the grips between the runs lie under their line."""
_EARLY = 1 / 3
"""Share of the bars with two chords whose first one runs (judgement, no source)."""
_LANDING = 3 * EIGHTH
"""Ticks that the pair rings on which a run lands, at most."""
_NEVER = 1 << 40


@dataclass(frozen=True, slots=True)
class HarmonisedArpeggio:
    """One run a bar, into the next change; a grip where no run has led."""

    stroked: bool = False
    sings: bool = True
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """Grips under the line."""
        return clear_of_bass(plain)._replace(ceiling=min(plain.ceiling, _GRIP_CEILING))

    def notes(self, work: Work) -> list[ScoreNote]:
        """Line and joined notes, and the grips between them."""
        line = _without_overlap(list(_line(work)))
        held = held_runs(work, line) if on_guitar(work) else [(struck, None) for struck in line]
        return [*_paired(work, held), *_grips(work, [struck for struck, _ in held])]


def step_of(tempo: float) -> int:
    """Ticks from note to note of a run: quarters when it is fast, triplets when it is slow, else eighths."""
    return BEAT if tempo > FAST else TRIPLET if tempo < SLOW else EIGHTH


class _Running(NamedTuple):
    """A run to be found.

    Attributes:
        unit: index of the scene's unit that runs.
        onsets: of its notes.
        taste: as `run_of` takes it.
    """

    unit: int
    onsets: tuple[int, ...]
    taste: int


def _line(work: Work) -> Iterator[Struck]:
    step = step_of(work.scene.plan.tempo)
    running = list(_running(work, step))
    for one, run in zip(running, _runs(work, running), strict=True):
        for onset, pair in zip(one.onsets, run.pairs, strict=True):
            yield Struck((onset, onset + step), pair, one.unit)
        span = _landing(work, one)
        if run.landing is not None and span:
            yield Struck(span, run.landing, one.unit + 1)


def _running(work: Work, step: int) -> Iterator[_Running]:
    dice = work.scene.dice("harmonised arpeggio", work.passage.start)
    chosen = [(_unit_of_run(work, bar, dice), len(bar) == 1) for bar in bars_of(work)]
    for index, whole_bar in chosen:
        if index is not None:
            unit = work.scene.units[index]
            count = _count(unit.end - unit.start, step, dice, whole_bar=whole_bar)
            start = unit.end - count * step
            onsets = tuple(range(start, unit.end, step))
            yield _Running(index, onsets, dice.randrange(_TASTES))


def _landing(work: Work, one: _Running) -> Span | tuple[()]:
    """Ticks of a run's landing; none where there is no room for any."""
    start = work.scene.units[one.unit].end
    if start >= work.passage.end:
        return ()
    out = min(quiet_from(work.scene.plan), led_from(work.scene.plan) - BEAT)
    end = min(start + _LANDING, work.scene.units[one.unit + 1].end, out)
    return (start, end) if start < end else ()


def _runs(work: Work, running: Sequence[_Running]) -> list[Run]:
    """Each run with its landing; the one with the intro's highest note is found last, over all the others."""
    times = [(*one.onsets, *_landing(work, one)[:1]) for one in running]
    peak = crowned(work.scene, times)
    found: dict[int, Run] = {}
    after = before = 0
    for number, one in enumerate(running):
        if number == peak:
            before = after
            continue
        found[number] = _run(work, one, after=after)
        after = found[number].line[-1]
    if peak >= 0:
        over = max([*tops_beside(work), *(pitch for run in found.values() for pitch in run.line)])
        crowns = _crowns(work, running, times, peak, over) if _has_room(work, over) else [None]
        for crown in crowns:
            found[peak] = _run(work, running[peak], after=before, crown=crown)
            if crown and crown.suits(found[peak].line):
                break
    return [found[number] for number in range(len(running))]


def _has_room(work: Work, over: int) -> bool:
    """Whether a run may rise over all else: a motif's top returns with it, and none need go over it."""
    return over < HIGHEST or not work.scene.plan.intro.melody.has_motif


def _crowns(
    work: Work, running: Sequence[_Running], times: Sequence[tuple[int, ...]], peak: int, over: int
) -> list[Crown]:
    """What may be asked of the run with the highest note, the best first."""
    before = running[peak - 1] if peak else None
    sure = [_sure(work, running[peak], times[peak], before=before)] if on_guitar(work) else []
    return [crown_over(work.scene, times[peak], over, sure=places) for places in (*sure, ())]


def _sure(work: Work, one: _Running, times: Sequence[int], *, before: _Running | None) -> tuple[bool, ...]:
    """Which notes of a run a hand brings in their place, even if it needs a rest before the next grip.

    For that the whole of it comes earlier, where there is room, or its last notes are left out.
    """
    step = one.onsets[1] - one.onsets[0]
    early = -(-REST // step)
    moved = [time - early * step for time in times]
    lands = (_landing(work, before) or (0, work.scene.units[before.unit].end)) if before else (0, 0)
    if moved[0] >= max(work.scene.units[one.unit].start + BEAT, lands[1] + REST):
        return places_in(work.scene.plan, moved)
    return tuple(number < len(times) - early for number in range(len(times)))


def _run(work: Work, one: _Running, *, after: int, crown: Crown | None = None) -> Run:
    scene, reached = work.scene, reach_of(work, one.unit, HIGHEST)
    run = run_of(
        scene.chord_of(one.unit).chord,
        _next_chord(scene, one.unit),
        len(one.onsets),
        after=after,
        taste=one.taste,
        high=max(reached, crown.over + 1) if crown else reached - BELOW_PEAK,
        crown=crown,
    )
    return run if _landing(work, one) else run._replace(landing=None)


def _unit_of_run(work: Work, bar: list[int], dice: Random) -> int | None:
    """The unit of a bar that runs: the last long one, now and then one before.

    None in the intro's last bar, and in every other bar where a run is in quarters and needs air after it.
    """
    scene = work.scene
    units, plan = scene.units, scene.plan
    odd = (units[bar[0]].start - work.passage.start) // plan.bar_ticks % 2
    if is_last_bar(work, units[bar[0]]) or (odd and plan.tempo > FAST):
        return None
    long = [unit for unit in bar if units[unit].end - units[unit].start >= 2 * BEAT]
    early = len(long) > 1 and dice.random() < _EARLY
    return None if not long else long[0] if early else long[-1]


def _count(length: int, step: int, dice: Random, *, whole_bar: bool) -> int:
    """Notes of a run: about half of a bar's chord, most of a shorter one."""
    if step == BEAT:
        return max(2, min(3, length // BEAT - 1))
    if step == TRIPLET:
        return _MOST_NOTES if whole_bar and length >= 4 * BEAT else 3
    return (length // EIGHTH + 1) // 2 + dice.randrange(2) if whole_bar else 3


def _next_chord(scene: Scene, unit: int) -> Chord:
    return scene.chord_of(unit + 1).chord if unit + 1 < len(scene.units) else scene.plan.head


def _without_overlap(line: list[Struck]) -> list[Struck]:
    """Each pair ended where the next begins."""
    nexts = [*(struck.span[0] for struck in line[1:]), _NEVER][: len(line)]
    return [
        struck._replace(span=(struck.span[0], min(struck.span[1], following)))
        for struck, following in zip(line, nexts, strict=True)
    ]


def _paired(work: Work, line: Sequence[tuple[Struck, Held | None]]) -> list[ScoreNote]:
    notes: list[ScoreNote] = []
    for struck, held in line:
        harmony = work.scene.chord_of(struck.unit).onset
        for index, part in enumerate((COMP, MELODY)):
            pitch = struck.pair[index]
            notes.append(sounded(pitch, struck.span, harmony=harmony, part=part, held=held, index=index))
    return notes


def _grips(work: Work, line: list[Struck]) -> list[ScoreNote]:
    """The whole grip where a chord begins without the line, and the short one that sets up the head."""
    last = set_up(work)
    quiet = quiet_from(work.scene.plan) if last is None else last[0]
    onsets = sorted(struck.span[0] for struck in line)
    notes: list[ScoreNote] = []
    for index in work.units:
        unit = work.scene.units[index]
        later = bisect_left(onsets, unit.start)
        run = onsets[later] if later < len(onsets) else _NEVER
        leaves = EIGHTH * on_guitar(work)  # so that the hand may change its place
        end = min(unit.end, quiet, run - leaves)
        if end > unit.start:
            notes += [work.sound(index, voice, (unit.start, end)) for voice in work.voices(index)]
    if last is not None:
        unit_before = len(work.scene.units) - 1
        notes += [work.sound(unit_before, voice, last, accent=True) for voice in work.voices(unit_before)]
    return notes
