"""Line-ups: who plays, and what that asks of the voicings. One word a tune or rig."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from introit.theory.fretboard import Fretboard
from introit.theory.plucking import Plucking


class LineUp(StrEnum):
    """Who plays the intro."""

    SOLO_GUITAR = "solo guitar"
    WITH_BASS = "with bass"
    WITH_KEYS = "with keys"
    TRIO = "trio"


class ClickSound(StrEnum):
    """How the count-off sounds."""

    BEATS = "beats"
    """A click on every beat, for whoever hears it alone."""
    TWO_AND_FOUR = "two and four"
    """Hat and side stick on 2 and 4, as a band's own count, for whoever is in the house."""


DEFAULT_LINE_UP = LineUp.WITH_KEYS
"""Live backing comps on keys, so that it does not sit in the guitarist's register."""


@dataclass(frozen=True, slots=True)
class Seats:
    """What a line-up asks.

    Attributes:
        comp_on: `guitar` or `keys`.
        one_pair_of_hands: bass note, inner voices and melody lie on one guitar, and their union is playable.
        bass: whether a bass player plays.
        ride: whether light time is played.
        lowest: lowest note of the comp, MIDI.
        over_bass: the comp's lowest note lies at least so many semitones over the bass.
    """

    comp_on: str
    one_pair_of_hands: bool
    bass: bool
    ride: bool
    lowest: int
    over_bass: int


_C3, _E2, _FIFTH = 48, 40, 7

SEATS: dict[LineUp, Seats] = {
    LineUp.SOLO_GUITAR: Seats("guitar", True, bass=False, ride=False, lowest=_E2, over_bass=0),
    LineUp.WITH_BASS: Seats("guitar", False, bass=True, ride=False, lowest=_C3, over_bass=_FIFTH),
    LineUp.WITH_KEYS: Seats("keys", False, bass=True, ride=False, lowest=_C3, over_bass=_FIFTH),
    LineUp.TRIO: Seats("guitar", False, bass=True, ride=True, lowest=_C3, over_bass=_FIFTH),
}
"""With a bass player the comp leaves out the root ([RL], [Ke02]) and keeps over the bass; the two
figures are common practice, no source."""


STANDARD_NECK = Fretboard()
"""A guitar of which nobody said more; one object, for a neck works out its frets when it is made."""


@dataclass(frozen=True, slots=True)
class Stage:
    """What the arranger must know of the stage.

    Attributes:
        line_up: who plays.
        fretboard: the guitar's neck.
        plucking: pick or fingers.
        click: how the count-off sounds.
    """

    line_up: LineUp = DEFAULT_LINE_UP
    fretboard: Fretboard = STANDARD_NECK
    plucking: Plucking = Plucking.FINGERS
    click: ClickSound = ClickSound.BEATS

    @property
    def seats(self) -> Seats:
        """What its line-up asks."""
        return SEATS[self.line_up]
