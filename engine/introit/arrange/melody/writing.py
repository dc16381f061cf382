"""Which melody a scene gets."""

from __future__ import annotations

from introit.arrange.melody.line import lead_in, line_notes
from introit.arrange.melody.motif import motif_notes
from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote
from introit.arrange.textures import TEXTURES


def write_melody(scene: Scene) -> list[ScoreNote]:
    """The melody, ordered by onset; nothing in the bars of a texture that sings for itself.

    Nothing there but the way to the tune's first note, where that is named: the texture leaves its last bar
    to it; and where an intro has no melody beside, it leads on from what the texture sings.
    Written before the comp, which then keeps under it and answers in its gaps. It follows from the plan and
    the line-up alone: the seed does not change it.

    Raises:
        NotationError: if the tune's first note is not a degree of the key.
    """
    melody = scene.plan.intro.melody
    if melody.style == "none":
        return lead_in(scene) if _line_at_the_end(scene) else []
    return motif_notes(scene) if melody.has_motif else line_notes(scene)


def _line_at_the_end(scene: Scene) -> bool:
    """Whether the last passage has a line of its texture's own; a tone held on top is none."""
    texture = TEXTURES[scene.passages[-1].texture]
    return texture.sings and not texture.stroked
