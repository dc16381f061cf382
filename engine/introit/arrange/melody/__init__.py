"""The melody: a line of its own, a motif that follows the harmony, or none."""

from introit.arrange.melody.ending import melody_limit
from introit.arrange.melody.writing import write_melody

__all__ = ["melody_limit", "write_melody"]
