"""A voicing: the pitches of one chord, and where they lie on the neck when a guitar plays them."""

from __future__ import annotations

from dataclasses import dataclass

from introit.theory.fretboard import Place


@dataclass(frozen=True, slots=True)
class Voicing:
    """What is held down for one chord.

    Attributes:
        pitches: MIDI notes, rising.
        family: `shell`, `drop 2`, `drop 3`, `rootless`, `quartal`, `spread`, `upper structure`, `close` or
            `bell`.
        places: string and fret of each pitch, in the same order; empty on keys.
        fingers: finger of each pitch: 1 to 4, 5 for the thumb, 0 open; empty on keys.
    """

    pitches: tuple[int, ...]
    family: str = "close"
    places: tuple[Place, ...] = ()
    fingers: tuple[int, ...] = ()

    @property
    def top(self) -> int:
        """The highest pitch."""
        return self.pitches[-1]

    @property
    def bottom(self) -> int:
        """The lowest pitch."""
        return self.pitches[0]
