"""The rise: the first sound of an evening comes softly, so that a hand has time to reach the fader."""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable
from typing import Final

from introit.units import NS_PER_SECOND

LOW: Final = 0.5
"""Of its level: what a channel begins with. By General MIDI 2's curve, 40 log10 of the value, it is 12 dB
softer (from memory): every note is heard, none is a blast."""
RISE_NS: Final = NS_PER_SECOND
"""From there to the level."""
STEPS: Final = 8
"""On the way, per channel; of several channels one after the other, for a MIDI cable's sake: a message takes
it 1 ms (MIDI 1.0: 31,250 bits a second, 10 a byte)."""

Place = tuple[int, int]
"""A port by its index, and a channel from 0."""


class Rise:
    """How far each channel has risen. Pure.

    A channel is low from when it is first heard of until it begins to rise, which it does once; when that
    is silenced on the way it is low again, since somebody may have found it too loud.
    """

    def __init__(self) -> None:
        self._step: dict[Place, int] = {}
        self._due: list[tuple[int, Place, int]] = []

    def level(self, place: Place, level: int) -> int:
        """What a channel is to be told now that shall have this level."""
        step = self._step.setdefault(place, 0)
        return round(level * (LOW + (1 - LOW) * step / STEPS))

    @property
    def low(self) -> list[Place]:
        """Channels that are not at their level and not on their way to it."""
        rising = {place for _, place, step in self._due if step}
        return [place for place, step in self._step.items() if step < STEPS and place not in rising]

    def begin(self, at: int, places: Iterable[Place] | None = None) -> None:
        """What is low rises from a time on.

        Args:
            at: nanosecond of the first sound.
            places: of these channels alone; None for all.
        """
        rising = [place for place in self.low if places is None or place in places]
        for number, place in enumerate(rising):
            for step in range(1, STEPS + 1):
                after = RISE_NS * (step * len(rising) + number - len(rising) + 1) // (STEPS * len(rising))
                insort(self._due, (at + after, place, step))

    def fall(self, at: int) -> None:
        """What has not risen wholly is low again, from a time on."""
        rising = {place for _, place, _ in self._due}
        self._due = [(at, place, 0) for place in sorted(rising)]

    def end(self) -> list[Place]:
        """Everything is at its level from now on; what was not."""
        below = [place for place, step in self._step.items() if step < STEPS]
        self._step = dict.fromkeys(self._step, STEPS)
        self._due = []
        return below

    def take(self, port: int, until: int) -> list[tuple[int, Place]]:
        """Which of a port's channels is to be told its level anew by a time, and when."""
        if not self._due:
            return []
        due = [(ns, place) for ns, place, _ in self._due if ns <= until and place[0] == port]
        for ns, place, step in self._due:
            if ns <= until and place[0] == port:
                self._step[place] = step
        self._due = [one for one in self._due if not (one[0] <= until and one[1][0] == port)]
        return due

    def next_due(self, port: int) -> int | None:
        """When a port's next is to be told."""
        return next((ns for ns, place, _ in self._due if place[0] == port), None)
