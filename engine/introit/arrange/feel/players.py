"""Who plays each note: the part's own player, or one pair of hands that plays comp and melody at once."""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.scene import Scene
from introit.arrange.score import COMP, MELODY, RIDE, ScoreNote
from introit.arrange.textures import TEXTURES
from introit.performance import PARTS

SOLO = len(PARTS)
"""One pair of hands, beside the numbers of the parts, each of which stands for the part's own player."""


def players_of(notes: Sequence[ScoreNote], scene: Scene) -> list[int]:
    """For each note the part whose player sounds it, or `SOLO`.

    One pair of hands plays everything but light time in `solo guitar`, and comp and melody wherever a texture
    sings for itself.
    """
    if scene.seats.one_pair_of_hands:
        return [note.part if note.part == RIDE else SOLO for note in notes]
    singing = [(passage.start, passage.end) for passage in scene.passages if TEXTURES[passage.texture].sings]
    if not singing:
        return [note.part for note in notes]
    return [
        SOLO
        if note.part in {COMP, MELODY} and any(start <= note.onset < end for start, end in singing)
        else note.part
        for note in notes
    ]
