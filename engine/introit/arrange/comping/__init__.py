"""When the comp plays: phrases made of a rhythm, in the gaps of the melody."""

from introit.arrange.comping.strokes import Stroke, comp_strokes, pushes_of

__all__ = ["Stroke", "comp_strokes", "pushes_of"]
