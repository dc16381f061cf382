"""One player's clock: where a tick of the score falls when this player plays it."""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.feel.swing import swung
from introit.units import TICKS_PER_QUARTER

_OFF_BEAT = TICKS_PER_QUARTER // 2


class Clock:
    """Swing, drift and lateness of one player, from the intro's first downbeat to the head.

    Order is kept: a later tick never falls before an earlier one. From the head on nothing is moved.

    Attributes:
        late: ticks that the player lies back.
    """

    def __init__(
        self, ratio: float, drift: Sequence[float], *, late: int = 0, even: frozenset[int] = frozenset()
    ) -> None:
        """Sets the clock.

        Args:
            ratio: long eighth to short eighth.
            drift: ticks of deviation at every beat, that of the head included.
            late: ticks.
            even: beats, from 0, that are not swung because they hold written triplets.
        """
        self.late = late
        self._ratio = ratio
        self._off_beat = swung(_OFF_BEAT, ratio)
        self._drift = drift
        self._even = even
        self._head = (len(drift) - 1) * TICKS_PER_QUARTER
        self._known: dict[int, int] = {}

    def at(self, tick: int) -> int:
        """Where a tick from 0 on falls, lateness included; at most the head for ticks before it."""
        found = self._known.get(tick)
        if found is None:
            found = self._known[tick] = self._found(tick)
        return found

    def _found(self, tick: int) -> int:
        if tick >= self._head:
            return tick
        beat, within = divmod(tick, TICKS_PER_QUARTER)
        drift = self._drift[beat]
        if within:
            drift += (self._drift[beat + 1] - drift) * within / TICKS_PER_QUARTER
            if beat not in self._even:
                within = self._off_beat if within == _OFF_BEAT else swung(within, self._ratio)
        moved = beat * TICKS_PER_QUARTER + within + self.late + round(drift)
        return moved if moved < self._head else self._head
