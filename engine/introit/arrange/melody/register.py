"""Where the melody lies: between which notes, by who plays it."""

from __future__ import annotations

from typing import NamedTuple

from introit.arrange.scene import Scene


class Register(NamedTuple):
    """Lowest and highest note of the melody, MIDI numbers."""

    lowest: int
    highest: int

    @property
    def size(self) -> int:
        """How many notes it holds."""
        return self.highest - self.lowest + 1


OPEN = Register(64, 81)
"""E4 to A5: over any comp, and not where it gets shrill. Judgement, no source."""
ON_THE_GRIP = Register(62, 76)
"""D4 to E5, where one guitar plays it: over the twelfth fret of the first string no grip is in reach below,
and under D4 there is no room for one. Judgement, no source."""

FOR_MOTIFS = Register(62, 84)
MOTIFS_ON_THE_GRIP = Register(60, 77)
"""How far a motif may go beyond, D4 to C6 and C4 to F5, where it would have to be bent otherwise: a line can
turn round at its border, a motif has its own shape. Judgement, no source."""


def register_of(scene: Scene) -> Register:
    """The register of a scene's melody."""
    return ON_THE_GRIP if scene.seats.one_pair_of_hands else OPEN


def motif_register(scene: Scene) -> Register:
    """The widest register of a scene's motif."""
    return MOTIFS_ON_THE_GRIP if scene.seats.one_pair_of_hands else FOR_MOTIFS
