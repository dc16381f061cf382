"""A guitar alone: bass note, inner voices and melody in one pair of hands."""

from collections.abc import Sequence

from introit.arrange.one_guitar.fitting import fitted
from introit.arrange.one_guitar.sound import one_sound
from introit.arrange.one_guitar.thumb import thumb_notes
from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote

__all__ = ["on_one_guitar", "one_sound", "thumb_notes"]


def on_one_guitar(scene: Scene, notes: Sequence[ScoreNote]) -> list[ScoreNote]:
    """All notes of a scene as its one guitar plays them; see `fitting.fitted`."""
    stage = scene.stage
    return fitted(notes, stage.fretboard, plucking=stage.plucking, bar_ticks=scene.plan.bar_ticks)
