"""JACK's time in integers: frames that wrap at 32 bits, and nanoseconds that never do. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from introit.units import NS_PER_SECOND

WRAP: Final = 1 << 32
"""JACK counts frames modulo this."""
_HALF: Final = 1 << 31


@dataclass(frozen=True, slots=True)
class FrameScale:
    """Frames to nanoseconds and back, both rounded to nearest, so that a frame survives both ways.

    Attributes:
        rate: frames a second.
        offset: the clock's nanosecond at frame 0.
    """

    rate: int
    offset: int

    def ns(self, frame: int) -> int:
        """The nanosecond nearest to a frame (unwrapped)."""
        return self.offset + (frame * NS_PER_SECOND + self.rate // 2) // self.rate

    def frame(self, ns: int) -> int:
        """The frame (unwrapped) nearest to a nanosecond."""
        return ((ns - self.offset) * self.rate + NS_PER_SECOND // 2) // NS_PER_SECOND


class Unwrapper:
    """Follows a counter that wraps at 2**32. Readings must lie less than 2**31 apart (12 hours at 48 kHz).

    Args:
        first: the counter's value that counts as itself.
    """

    def __init__(self, first: int) -> None:
        self._last = first

    def __call__(self, counter: int) -> int:
        """The unwrapped value of a reading; readings may also step back a little."""
        last = self._last
        step = (counter - last) % WRAP
        value = last + (step if step < _HALF else step - WRAP)
        self._last = value  # one store: a second thread that reads meanwhile only repeats the step
        return value
