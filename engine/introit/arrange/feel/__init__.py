"""From a score to sounding notes: swing, a late line, drift, touch, levels. The same seed, the same notes."""

from introit.arrange.feel.playing import played

__all__ = ["played"]
