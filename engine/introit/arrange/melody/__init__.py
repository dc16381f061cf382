"""The melody: a line of its own, a motif that follows the harmony, or none."""

from introit.arrange.melody.writing import write_melody

__all__ = ["write_melody"]
