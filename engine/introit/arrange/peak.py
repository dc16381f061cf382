"""One highest note, late but not last, where no melody brings it: the comp's top voice rises to it.

The first voicings show where the comp lies; then all chords but one are asked to keep under that one's top,
and the voicings are found again.
"""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.arc import peak_span
from introit.arrange.comping import Stroke
from introit.arrange.scene import Scene
from introit.arrange.textures import TEXTURES
from introit.arrange.textures.bell import last_top
from introit.arrange.textures.crown import FEWEST_BARS
from introit.arrange.voicing import Voicing, Wish

_NEARLY = 2
"""The peak lies at most so many semitones under what was the highest before it was asked for."""


def with_a_peak(
    scene: Scene, wishes: Sequence[Wish], voicings: Sequence[Voicing], strokes: Sequence[Stroke]
) -> list[Wish] | None:
    """Wishes that give the comp's top voice one peak; None where it has one, or there is no room for any.

    A tone that a texture holds on top is no peak, but nothing goes over it.

    Args:
        scene: where.
        wishes: one for each unit, as asked.
        voicings: one for each unit, as found.
        strokes: the comping hits, which say when a unit's voicing is first heard.
    """
    if scene.plan.bars < FEWEST_BARS or _a_line_brings_it(scene):
        return None
    if any(wish.top for wish in wishes):
        return _under_held(wishes, voicings)
    heard = _first_heard(scene, voicings, strokes)
    tops = [voicing.top for voicing in voicings]
    first, last = peak_span(scene.plan)
    late = [unit for unit, at in enumerate(heard) if first <= at <= last]
    if not late:
        return None
    peak = max(late, key=lambda unit: (tops[unit], wishes[unit].ceiling, -unit))
    chord = scene.units[peak].chord
    others = [unit for unit in range(len(tops)) if scene.units[unit].chord != chord]
    highest = max((tops[unit] for unit in others), default=0)
    if tops[peak] > highest:
        return None
    aim = min(wishes[peak].ceiling, max(tops[peak], highest - _NEARLY))
    return [
        wish._replace(lowest_top=aim)
        if unit == peak
        else wish._replace(ceiling=min(wish.ceiling, aim if unit not in others else aim - 1))
        for unit, wish in enumerate(wishes)
    ]


def without_a_late_top(
    scene: Scene, wishes: Sequence[Wish], voicings: Sequence[Voicing], strokes: Sequence[Stroke]
) -> list[Wish] | None:
    """Wishes that keep what comes after the peak's place under what came before; None where it is so.

    There the way to the head is open already, and a new highest note would only stick out.
    """
    if scene.plan.bars < FEWEST_BARS:
        return None
    _, last = peak_span(scene.plan)
    heard = _first_heard(scene, voicings, strokes)
    after = {unit for unit, at in enumerate(heard) if at > last}
    highest = max((one.top for unit, one in enumerate(voicings) if unit not in after), default=0)
    if not highest or all(voicings[unit].top <= highest for unit in after):
        return None
    return [
        wish._replace(ceiling=min(wish.ceiling, highest)) if unit in after else wish
        for unit, wish in enumerate(wishes)
    ]


def _under_held(wishes: Sequence[Wish], voicings: Sequence[Voicing]) -> list[Wish] | None:
    """No chord goes higher than the tone that is held on top of some: it is the highest throughout."""
    held = max(voicing.top for voicing, wish in zip(voicings, wishes, strict=True) if wish.top)
    if all(voicing.top <= held for voicing in voicings):
        return None
    return [wish._replace(ceiling=min(wish.ceiling, held)) for wish in wishes]


def _a_line_brings_it(scene: Scene) -> bool:
    """Whether a texture has a line of its own, over the comp, where the highest note belongs."""
    first, last = peak_span(scene.plan)
    lines = {word for word, texture in TEXTURES.items() if texture.sings and not texture.stroked}
    return any(one.texture in lines and one.start < last and first < one.end for one in scene.passages)


def _first_heard(scene: Scene, voicings: Sequence[Voicing], strokes: Sequence[Stroke]) -> list[int]:
    """Tick at which each unit's top is first heard: with its first hit, else where it begins.

    Bells rise to it where their passage ends.
    """
    hits = {stroke.unit: stroke.onset for stroke in reversed(strokes)}
    heard = [hits.get(index, unit.start) for index, unit in enumerate(scene.units)]
    last = {unit.passage: index for index, unit in enumerate(scene.units)}
    for passage, unit in last.items():
        if scene.passages[passage].texture == "bell":
            heard[unit] = last_top(scene, unit, len(voicings[unit].pitches) - scene.seats.one_pair_of_hands)
    return heard
