"""Call and response: a short figure at the head of the bar, two or three accents of the comp in its gap."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.arrange.score import MELODY, ScoreNote
from introit.arrange.textures.answers import answered
from introit.arrange.textures.calls import HIGHEST, ON_THE_GRIP, call_on
from introit.arrange.textures.cells import Cell, cells_of, shape_of
from introit.arrange.textures.crown import Crown, crown_over, crowned, tops_beside
from introit.arrange.textures.neck import Held, walked
from introit.arrange.textures.room import (
    BEAT,
    BELOW_PEAK,
    clear_of_bass,
    led_from,
    on_guitar,
    position_at,
    reach_of,
    sounded,
)
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish

_GRIP_CEILING = 70
"""Bb4: the accents lie under the figure, which they never sound with."""
_LIFT = 180
"""Ticks by which a figure's last note is lifted, so that the hand may come to the accents."""
_SHELL_EVERY = 4
"""One chord in so many is a plain shell (judgement, no source)."""


class _Call(NamedTuple):
    """A figure: its onsets, its end, the units under its notes, and how many came before it."""

    onsets: tuple[int, ...]
    end: int
    units: tuple[int, ...]
    number: int


@dataclass(frozen=True, slots=True)
class CallAndResponse:
    """The intro's motif calls where it has one; else a figure made here."""

    stroked: bool = False
    sings: bool = True
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """Grips of three voices under the figure, now and then a plain shell."""
        low = clear_of_bass(plain)._replace(ceiling=min(plain.ceiling, _GRIP_CEILING), most_voices=3)
        is_shell = unit % _SHELL_EVERY == 1 and unit < len(scene.units) - 1
        return low._replace(families=("shell",)) if is_shell else low

    def notes(self, work: Work) -> list[ScoreNote]:
        """The calls, where no motif calls, and the answers."""
        cells = list(cells_of(work))
        return [*_calls(work, cells), *answered(work, cells)]


def _calls(work: Work, cells: list[Cell]) -> Iterator[ScoreNote]:
    scene = work.scene
    calling = [
        _Call(cell.call[:-1], cell.call[-1], tuple(map(scene.unit_at, cell.call[:-1])), number)
        for number, cell in enumerate(one for one in cells if one.call)
    ]
    for call, pitches in zip(calling, _pitches_of(work, calling), strict=True):
        way: tuple[Held | None, ...] = (None,) * len(pitches)
        if on_guitar(work):
            way = walked(scene.stage, [(pitch,) for pitch in pitches], position_at(work, call.units[0]))
        ends = (*call.onsets[1:], call.end - _LIFT)
        for pitch, onset, end, unit, held in zip(pitches, call.onsets, ends, call.units, way, strict=False):
            harmony = scene.chord_of(unit).onset
            yield sounded(pitch, (onset, end), harmony=harmony, part=MELODY, held=held)


def _pitches_of(work: Work, calling: Sequence[_Call]) -> list[tuple[int, ...]]:
    """Of each figure; the one with the intro's highest note is found last, to rise over all the others."""
    peak = crowned(work.scene, [call.onsets for call in calling])
    found: list[tuple[int, ...]] = []
    after = 0
    for call in calling:
        pitches = () if call.number == peak else _figure(work, call, after=after)
        after = pitches[0] if pitches else after
        found.append(pitches)
    if peak >= 0:
        call = calling[peak]
        over = max([*tops_beside(work), *(max(pitches) for pitches in found if pitches)])
        before = next((pitches[0] for pitches in reversed(found[:peak]) if pitches), 0)
        crown = crown_over(work.scene, call.onsets, over)
        found[peak] = _figure(work, call, after=before, crown=crown) or _figure(work, call, after=before)
    return found


def _figure(work: Work, call: _Call, *, after: int, crown: Crown | None = None) -> tuple[int, ...]:
    scene = work.scene
    highest = ON_THE_GRIP if scene.seats.one_pair_of_hands else HIGHEST
    reach = reach_of(work, call.units[-1], highest)
    return call_on(
        tuple((scene.chord_of(unit).chord, len(list(same))) for unit, same in groupby(call.units)),
        tuple(onset % BEAT == 0 for onset in call.onsets),
        shape=shape_of(scene),
        answered=bool(call.number % 2),
        after=after,
        high=reach - BELOW_PEAK if crown is None else max(reach, crown.over + 1),
        crown=crown,
        spent=_spent(scene.plan, call.onsets[-1]),
    )


def _spent(plan: Plan, onset: int) -> int | None:
    """The pitch class that a figure's last note is not: the tune's first, where nothing leads to that."""
    name = plan.tune.first_note
    if name is None or onset < led_from(plan):
        return None
    return plan.key.degree_from_text(name).pitch_class
