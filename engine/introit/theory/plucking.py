"""Can the other hand sound a grip at once: with the fingers, or with a pick?

Fingers pluck single strings, four at most (thumb and three fingers; common practice, no source). A pick
sweeps: it sounds every string between the outer two, so a silent string among them must be damped by the
fretting hand. A fingertip on a neighbouring string leans against it; a finger that lies flat over it lets it
sound, and nothing damps it between open strings. `Hand(damps=True)` looks for fingerings that do.
"""

from __future__ import annotations

from enum import StrEnum

from introit.theory.fingering import Fingering
from introit.theory.grip import SILENT, Grip

PLUCKING_FINGERS = 4


class Plucking(StrEnum):
    """What sounds the strings."""

    FINGERS = "fingers"
    PICK = "pick"


def why_not_plucked(fingering: Fingering, plucking: Plucking) -> str:
    """Why a grip cannot be sounded at one stroke so; empty when it can."""
    grip = fingering.grip
    if plucking is Plucking.FINGERS:
        count = len(grip.places)
        return (
            f"{count} strings at once, fingers pluck at most {PLUCKING_FINGERS}"
            if count > PLUCKING_FINGERS
            else ""
        )
    string = undamped_string(grip) or _covered_string(fingering)
    return f"a pick would sound string {string}, which no finger damps" if string else ""


def undamped_string(grip: Grip) -> int:
    """The lowest silent string between sounding ones that has no stopped string beside it; 0 for none."""
    frets, strings = grip.frets, len(grip.frets)
    for row in _silent_inside(grip):
        if frets[row - 1] < 1 and frets[row + 1] < 1:
            return strings - row
    return 0


def _covered_string(fingering: Fingering) -> int:
    """The lowest silent string between sounding ones that a finger lies flat over; 0 for none."""
    for row in _silent_inside(fingering.grip):
        if any(stop.lowest < row < stop.highest for stop in fingering.stops):
            return len(fingering.grip.frets) - row
    return 0


def _silent_inside(grip: Grip) -> list[int]:
    """Rows of the silent strings between the outer sounding ones, lowest first."""
    sounding = [row for row, fret in enumerate(grip.frets) if fret != SILENT]
    return [row for row in range(sounding[0], sounding[-1]) if grip.frets[row] == SILENT] if sounding else []
