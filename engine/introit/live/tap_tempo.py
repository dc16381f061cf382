"""A tempo that is tapped apart from any count-off: the same reading of taps, for the tempo alone."""

from __future__ import annotations

from introit.live.tapping import Tapping
from introit.performance import Performance


class TapTempo:
    """Reads taps as a tempo, as soon as there are enough. Pure: time comes with each tap."""

    def __init__(self) -> None:
        self._tapping: Tapping | None = None

    def tap(self, ns: int, performance: Performance, tempo: float) -> float | None:
        """The tempo that the taps up to this one tell, in whole quarter notes a minute; None for too few.

        Args:
            ns: when the tap fell.
            performance: for its beats a bar.
            tempo: quarter notes a minute that the taps are understood by.
        """
        before = self._tapping
        over = before is None or before.forgotten(ns)
        if before is not None and before.entry is not None:
            over = ns >= before.entry.downbeat
        tapping = Tapping(tempo, performance.beats) if before is None or over else before
        tapping.tap(ns)
        self._tapping = tapping
        return None if tapping.entry is None else float(round(tapping.entry.tempo))
