"""Call and response: a short figure at the head of the bar, two or three accents of the comp in its gap."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from random import Random
from typing import NamedTuple

from introit.arrange.scene import Scene
from introit.arrange.score import MELODY, ScoreNote
from introit.arrange.textures.calls import HIGHEST, call_on, times_of_call
from introit.arrange.textures.neck import Held, walked
from introit.arrange.textures.room import (
    BEAT,
    BELOW_PEAK,
    EIGHTH,
    FAST,
    Span,
    bars_of,
    clear_of_bass,
    is_last_bar,
    on_guitar,
    peak_of,
    position_at,
    quiet_from,
    reach_of,
    set_up,
    sounded,
)
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish

_GRIP_CEILING = 70
"""Bb4: the accents lie under the figure, which they never sound with."""
_LIFT = 180
"""Ticks by which a figure's last note is lifted, so that the hand may come to the accents."""
_THREE = 0.3
_HELD = 0.8
"""Share of the answers with three accents, and of the accents held, where there is a beat to the next."""
_PUSHED = 0.35
"""Share of the changes that are pushed (common practice, no source)."""
_PUSH_FROM = 90.0
"""Quarter notes a minute: slower, nothing is pushed; no ballad is (common practice, no source)."""
_FEWEST_NOTES = 3
_SHORT_BAR = 3
"""Beats of a bar that has no room for both: there, as when it is fast, the answer has a bar of its own."""
_BREATH = 4
"""One bar in so many is thin: one hit answers, or where it has one chord, that is held (no source)."""


class _Cell(NamedTuple):
    """A figure's bar, or two where it is fast or in three.

    Attributes:
        start, end: ticks.
        call: onsets of the figure made here, and its end at last; empty where the motif or nothing calls.
        gap: tick from which the comp may answer.
    """

    start: int
    end: int
    call: tuple[int, ...]
    gap: int


@dataclass(frozen=True, slots=True)
class CallAndResponse:
    """The intro's motif calls where it has one; else a figure made here."""

    stroked: bool = False
    sings: bool = True
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """Grips under the figure, now and then a plain shell."""
        low = clear_of_bass(plain)._replace(ceiling=min(plain.ceiling, _GRIP_CEILING))
        is_shell = unit % _BREATH == 1 and unit < len(scene.units) - 1
        return low._replace(families=("shell",), most_voices=3) if is_shell else low

    def notes(self, work: Work) -> list[ScoreNote]:
        """The calls, where no motif calls, and the answers."""
        cells = list(_cells(work))
        dice = work.scene.dice("call and response", work.passage.start)
        notes = list(_calls(work, cells))
        for number, cell in enumerate(cells):
            notes += _answer(work, cell, dice, number=number)
        return notes


def _shape(scene: Scene) -> int:
    """Which figure an intro gets: its own, whoever plays and how often."""
    return sum(scene.plan.intro.id.encode())


def _cells(work: Work) -> Iterator[_Cell]:
    plan, bar_ticks = work.scene.plan, work.scene.plan.bar_ticks
    in_two = plan.tempo > FAST or plan.meter.beats == _SHORT_BAR
    starts = [work.scene.units[bar[0]].start for bar in bars_of(work)]
    last_bar = plan.head_tick - bar_ticks
    while starts:
        start = starts.pop(0)
        end = start + bar_ticks
        if in_two and starts and starts[0] != last_bar:
            starts.pop(0)
            end += bar_ticks
        if plan.intro.melody.has_motif:
            yield _Cell(start, end, (), _gap_after_motif(work, start, end))
        else:
            yield _own_cell(work, start, end)


def _gap_after_motif(work: Work, start: int, end: int) -> int:
    """Where the motif's notes that sound in a stretch end; the stretch's start where it rests."""
    ends = [min(note.end, end) for note in work.melody if note.onset < end and start < note.end]
    return max(ends, default=start)


def _own_cell(work: Work, start: int, end: int) -> _Cell:
    """A cell with a figure.

    Without one in each fourth bar that has one chord, in a bar left over from two, and where the
    ending has no room.
    """
    scene, plan = work.scene, work.scene.plan
    fast, single = plan.tempo > FAST, end - start == plan.bar_ticks
    in_two = fast or plan.meter.beats == _SHORT_BAR
    number = (start - work.passage.start) // plan.bar_ticks
    units = scene.unit_at(end - 1) - scene.unit_at(start) + 1
    breathes = single and (in_two or (number % _BREATH == _BREATH - 1 and units == 1))
    times = tuple(start + at for at in times_of_call(plan.meter.beats, _shape(scene), fast=fast))
    melody_out = min(quiet_from(plan), plan.head_tick - plan.bar_ticks + (plan.meter.beats // 2) * BEAT)
    if start >= plan.head_tick - plan.bar_ticks:
        times = tuple(time for time in times if time <= melody_out)
        times = times if len(times) > _FEWEST_NOTES else ()
    if breathes or not times:
        return _Cell(start, end, (), start)
    return _Cell(start, end, times, times[-1])


def _calls(work: Work, cells: list[_Cell]) -> Iterator[ScoreNote]:
    scene, after = work.scene, 0
    calling = [cell for cell in cells if cell.call]
    peak = peak_of(work, [cell.call[0] for cell in calling])
    highest = reach_of(work, scene.unit_at(peak), HIGHEST)
    for number, cell in enumerate(calling):
        onsets = cell.call[:-1]
        units = [scene.unit_at(onset) for onset in onsets]
        peaks = onsets[0] == peak
        pitches = call_on(
            tuple((scene.chord_of(unit).chord, len(list(same))) for unit, same in groupby(units)),
            tuple(onset % BEAT == 0 for onset in onsets),
            shape=_shape(scene),
            answered=bool(number % 2),
            after=after,
            high=highest if peaks else min(highest, reach_of(work, units[-1], HIGHEST)) - BELOW_PEAK,
            peaks=peaks,
        )
        after = pitches[0] if pitches else after
        way: tuple[Held | None, ...] = (None,) * len(pitches)
        if on_guitar(work):
            way = walked(scene.stage, [(pitch,) for pitch in pitches], position_at(work, units[0]))
        ends = (*onsets[1:], cell.call[-1] - _LIFT)
        for pitch, onset, end, unit, held in zip(pitches, onsets, ends, units, way, strict=False):
            harmony = scene.chord_of(unit).onset
            yield sounded(pitch, (onset, end), harmony=harmony, part=MELODY, held=held)


def _answer(work: Work, cell: _Cell, dice: Random, *, number: int) -> list[ScoreNote]:
    """The comp's hits in a cell: an answer in the gap, a held grip where nothing calls, one hit at last."""
    scene = work.scene
    last = is_last_bar(work, scene.units[scene.unit_at(cell.start)])
    silent = cell.gap == cell.start
    if last or (silent and not scene.plan.intro.melody.has_motif):
        return _held(work, cell, silent=silent)
    onsets = _accents(work, cell, dice)
    if number % _BREATH == _BREATH - 1 and cell.end - cell.start == scene.plan.bar_ticks:
        onsets = onsets[-1:]  # one bar in four is thin
    notes: list[ScoreNote] = []
    for index, onset in enumerate(onsets):
        closes = index == len(onsets) - 1
        unit = _unit_struck(work, onset, closes=closes)
        room = EIGHTH if closes else min(onsets[index + 1], scene.units[unit].end) - onset
        held = dice.random() < _HELD
        span = (onset, onset + (room if held else min(room, EIGHTH)))
        notes += [work.sound(unit, voice, span, accent=closes) for voice in work.voices(unit)]
    return notes


def _held(work: Work, cell: _Cell, *, silent: bool) -> list[ScoreNote]:
    """Each chord that no call has stated, held; in the last bar, a short hit that sets up the head."""
    scene, quiet = work.scene, quiet_from(work.scene.plan)
    closing = set_up(work) if cell.end == scene.plan.head_tick else None
    quiet = closing[0] if closing else quiet
    spans: list[tuple[int, Span]] = []
    for unit in range(scene.unit_at(cell.start), scene.unit_at(cell.end - 1) + 1):
        start, end = scene.units[unit].start, min(scene.units[unit].end, quiet)
        called = not silent and start < cell.gap
        if start < end and not called:
            spans.append((unit, (start, end)))
    if closing and (silent or not spans):
        spans.append((len(scene.units) - 1, closing))
    return [
        work.sound(unit, voice, span, accent=span == closing)
        for unit, span in spans
        for voice in work.voices(unit)
    ]


def _accents(work: Work, cell: _Cell, dice: Random) -> list[int]:
    """Two or three onsets in the gap; the last on its last beat, or pushed on its last off-beat.

    One alone where the gap has room for no more. The first waits for a chord that comes in the gap.
    """
    plan, grid = work.scene.plan, BEAT if work.scene.plan.tempo > FAST else EIGHTH
    end = min([cell.end, quiet_from(plan), *_next_call(work, cell)])
    slots = list(range(-(-cell.gap // grid) * grid, end, grid))
    if len(slots) < 2:
        return slots
    may_push = grid == EIGHTH and plan.tempo >= _PUSH_FROM and end % BEAT == 0
    beats = [slot for slot in slots[1:] if slot % BEAT == 0]
    chords = work.scene.unit_at(cell.end - 1) - work.scene.unit_at(cell.start) + 1
    pushes = dice.random() < _PUSHED * chords
    last = slots[-1] if (may_push and pushes) or not beats else beats[-1]
    early = [slot for slot in slots if slot < last]
    changes = [unit.start for unit in work.scene.units if early[0] < unit.start <= early[-1]]
    if changes:
        early = [slot for slot in early if slot >= changes[-1]]
    if dice.random() < _THREE and len(early) > 1:
        return [*sorted(dice.sample(early, 2)), last]
    apart = [slot for slot in early if last - slot >= BEAT] or early
    return [dice.choice(apart), last]


def _next_call(work: Work, cell: _Cell) -> list[int]:
    """The motif's next onset in the cell after its gap began: there is none, unless it calls again."""
    return [note.onset for note in work.melody if cell.gap <= note.onset < cell.end][:1]


def _unit_struck(work: Work, onset: int, *, closes: bool) -> int:
    """The unit that a hit sounds: the coming one's where the last hit falls an eighth before it."""
    units = work.scene.units
    unit = work.scene.unit_at(onset)
    pushed = closes and units[unit].end - onset == EIGHTH and unit + 1 < len(units)
    return unit + 1 if pushed and work.scene.plan.tempo >= _PUSH_FROM else unit
