"""What each voicing of a scene must do, as the melody over it, the line-up and its texture ask."""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.comping import Stroke
from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote
from introit.arrange.shifting import REST
from introit.arrange.sung import Phrase, ceiling_under, phrases_of, sounding_in
from introit.arrange.textures import TEXTURES
from introit.arrange.voicing import Wish

HIGHEST = 77
"""F5: the comp's top voice where no melody sounds."""

_LETS_GO = {"block", "call and response"}


def wishes(scene: Scene, melody: Sequence[ScoreNote], strokes: Sequence[Stroke]) -> list[Wish]:
    """One wish for each of the scene's units.

    Args:
        scene: where.
        melody: of the whole intro; the comp keeps under it.
        strokes: of the whole intro; a push sounds its unit's voicing before the unit begins.
    """
    first = {stroke.unit: stroke.onset for stroke in reversed(strokes)}
    last = {stroke.unit: stroke.end for stroke in strokes}
    rested = _rested(strokes)
    phrases = list(phrases_of(melody))
    return [
        _wish(scene, index, melody, first=first, last=last, rested=rested, phrases=phrases)
        for index in range(len(scene.units))
    ]


def _wish(
    scene: Scene,
    index: int,
    melody: Sequence[ScoreNote],
    *,
    first: dict[int, int],
    last: dict[int, int],
    rested: set[int],
    phrases: Sequence[Phrase],
) -> Wish:
    unit, seats = scene.units[index], scene.seats
    start, end = min(unit.start, first.get(index, unit.start)), max(unit.end, last.get(index, 0))
    plain = Wish(
        ceiling=ceiling_under(melody, phrases, start, end, highest=HIGHEST),
        floor=seats.lowest,
        over=sounding_in(melody, start, end),
        bass_in_grip=seats.one_pair_of_hands,
        rest_before=index in rested and not seats.one_pair_of_hands and _lets_go(scene, index),
    )
    return TEXTURES[scene.passages[unit.passage].texture].wish(plain, index, scene)


def _lets_go(scene: Scene, index: int) -> bool:
    """Whether the hand is free between the hits before a unit: other textures leave their notes to ring."""
    own, before = (scene.passages[scene.units[at].passage].texture for at in (index, max(0, index - 1)))
    return {own, before} <= _LETS_GO


def _rested(strokes: Sequence[Stroke]) -> set[int]:
    """Units before whose first stroke the hand has a rest."""
    rested: set[int] = set()
    unit, end = -1, 0
    for stroke in strokes:
        if stroke.unit != unit and stroke.onset - end >= REST:
            rested.add(stroke.unit)
        unit, end = stroke.unit, max(end, stroke.end)
    return rested
