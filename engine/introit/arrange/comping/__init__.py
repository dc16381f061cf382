"""When the comp plays: a rhythm laid over the scene, in phrases, in the gaps of the melody."""

from introit.arrange.comping.strokes import Stroke, comp_strokes

__all__ = ["Stroke", "comp_strokes"]
