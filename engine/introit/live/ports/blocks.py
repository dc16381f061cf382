"""FluidSynth's sequencer in integers: sound is made in blocks, and an event falls on the start of one. Pure.

The sequencer's time stands in whole milliseconds of what has been rendered; a tick is a part of one. Before
each block it plays every event whose tick is not later than the millisecond in which the block starts. So all
ticks after one block's millisecond, up to the next block's, mean that next block: which of them is taken says
no more than the order. At 48,000 frames a second a block of 64 lasts 1.33 ms and has at least 48 ticks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from introit.units import NS_PER_SECOND

TICKS_PER_MS: Final = 48
_MS_PER_SECOND: Final = 1000


@dataclass(frozen=True, slots=True)
class Blocks:
    """Blocks are counted from the sequencer's start, where the tick is 0 as well.

    Attributes:
        rate: frames a second.
        size: frames a block; it must last a millisecond or longer.
    """

    rate: int
    size: int

    def ns(self, block: int) -> int:
        """The nanosecond, from the start, at which a block starts."""
        return (block * self.size * NS_PER_SECOND + self.rate // 2) // self.rate

    def nearest(self, ns: int) -> int:
        """The block whose start is nearest to a nanosecond."""
        length = self.size * NS_PER_SECOND
        return (2 * ns * self.rate + length) // (2 * length)

    def first_tick(self, block: int) -> int:
        """The first tick that is played by a block, and not by the one before."""
        return (block - 1) * self.size * _MS_PER_SECOND // self.rate * TICKS_PER_MS + 1

    def of_tick(self, tick: int) -> int:
        """The block that plays a tick."""
        return self._reaching(-(-tick // TICKS_PER_MS))

    def next(self, tick: int) -> int:
        """The first block that has not been begun, when the sequencer shows this tick."""
        return self._reaching(tick // TICKS_PER_MS + 1)

    def _reaching(self, millisecond: int) -> int:
        """The first block that starts in a millisecond, or later."""
        return -(-millisecond * self.rate // (self.size * _MS_PER_SECOND))
