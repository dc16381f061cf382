"""The late line: a soloist's beats lie behind the rhythm section's, the off-beats with them.

Both come of one thing: a line that swings less than cymbal and comp, and lies back as a whole. Its off-beats,
early by its straighter swing, are brought level by the delay that makes its beats late.
"""

from __future__ import annotations

from introit.library.model import Feel
from introit.units import ticks_from_ms

LATE_REFERENCE, LATE_VANISHES = 150.0, 300.0
"""The lateness is given at 150 and falls to none at 300: clearly falling, nearly in a straight line when
counted in ticks ([N22]); that it ends at 300, where swing has gone even ([F97]), is ours."""
LATE_MOST = 1.2
"""Times the lateness at 150 that it is at most, in milliseconds: no measurements of slow tempi were seen."""


def late_line_ticks(feel: Feel, tempo: float) -> int:
    """How late a line's on-beats are, in ticks at the tempo."""
    at_reference = ticks_from_ms(feel.late_line_ms, LATE_REFERENCE)
    falling = at_reference * (LATE_VANISHES - tempo) / (LATE_VANISHES - LATE_REFERENCE)
    return round(max(0.0, min(falling, ticks_from_ms(feel.late_line_ms * LATE_MOST, tempo))))
