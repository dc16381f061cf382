"""Which melody a scene gets."""

from __future__ import annotations

from introit.arrange.melody.line import line_notes
from introit.arrange.melody.motif import motif_notes
from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote


def write_melody(scene: Scene) -> list[ScoreNote]:
    """The melody, ordered by onset; nothing in the bars of a texture that sings for itself.

    Written before the comp, which then keeps under it and answers in its gaps. It follows from the plan and
    the line-up alone: the seed does not change it.

    Raises:
        NotationError: if the tune's first note is not a degree of the key.
    """
    melody = scene.plan.intro.melody
    if melody.style == "none":
        return []
    return motif_notes(scene) if melody.has_motif else line_notes(scene)
