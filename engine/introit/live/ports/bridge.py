"""From the session's clock to another one, such as a synth's, that can only be asked where it stands. Pure.

The other clock runs about as fast, but may drift, go in steps (a buffer at a time) and stand still for a
while. A reading never shows more than the truth: it is the last step, or was taken a little before. So of the
readings of the last seconds the one that is farthest ahead counts, and what is older is forgotten.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from introit.units import NS_PER_SECOND

WINDOW_NS: Final = 4 * NS_PER_SECOND
"""How long a reading counts: a clock that drifts by 100 millionths is 0.4 ms off by then."""


class Bridge:
    """Both clocks in nanoseconds. Ask nothing before the first reading."""

    def __init__(self) -> None:
        # (here, how far ahead there is); the second falls from left to right, so the first is the farthest.
        self._seen: deque[tuple[int, int]] = deque()

    def see(self, here: int, there: int) -> None:
        """Takes a reading. `here` is read after `there`, and never goes back."""
        ahead = there - here
        while self._seen and self._seen[-1][1] <= ahead:
            self._seen.pop()
        self._seen.append((here, ahead))
        while self._seen[0][0] < here - WINDOW_NS:
            self._seen.popleft()

    def there(self, here: int) -> int:
        """What the other clock shows at a time of ours."""
        return here + self._seen[0][1]

    def here(self, there: int) -> int:
        """The time of ours at which the other clock shows this."""
        return there - self._seen[0][1]

    def forget(self) -> None:
        """The other clock has been set anew."""
        self._seen.clear()
