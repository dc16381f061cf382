"""From a score to sounding notes: swing, drift, touch, levels."""

from introit.arrange.feel.playing import played

__all__ = ["played"]
