"""Which melody a scene gets, and in which bars."""

from __future__ import annotations

from introit.arrange.melody.line import line_notes
from introit.arrange.melody.motif import motif_notes
from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote
from introit.arrange.textures import TEXTURES


def write_melody(scene: Scene) -> list[ScoreNote]:
    """The melody, ordered by onset; nothing in the bars of a texture that sings for itself.

    Written before the comp, which then keeps under it and answers in its gaps.
    """
    style = scene.plan.intro.melody.style
    if style == "none":
        return []
    notes = motif_notes(scene) if style == "riff" else line_notes(scene)
    return [note for note in notes if not TEXTURES[scene.passage_at(note.onset).texture].sings]
