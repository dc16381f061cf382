"""What the hand that stops the strings can do: its fingers, their reach, and what each thing costs it.

Distances are along the neck, in millimetres, from fret to fret. Across it any finger is taken to reach
any string; a wide jump from one finger to the next only costs more.
**No figure of reach or cost here has a source**: they are common practice and starting values, set so that
four frets at the nut (97 mm on a 648 mm scale) are a stretch and five at the ninth (79 mm) are easy, and
held against people's fingerings in the tests. That the fretting hand has four stopping fingers, and that
their spread is what makes a grip hard: Heijink and Meulenbroek 2000; Radicioni and Lombardo 2005.
"""

from __future__ import annotations

from dataclasses import dataclass

INDEX, MIDDLE, RING, LITTLE = 1, 2, 3, 4
THUMB = 5
"""Fingers as players number them; the thumb, which has no number of its own, is 5 here."""

REACH_MM: dict[tuple[int, int], float] = {
    (1, 2): 80.0, (2, 3): 68.0, (3, 4): 68.0, (1, 3): 105.0, (2, 4): 100.0, (1, 4): 115.0,
}  # fmt: skip
"""Farthest that two fingers stop strings apart, along the neck, in millimetres (no source)."""

EASE_MM: dict[tuple[int, int], float] = {
    (1, 2): 45.0, (2, 3): 36.0, (3, 4): 36.0, (1, 3): 70.0, (2, 4): 62.0, (1, 4): 80.0,
}  # fmt: skip
"""Up to this distance a pair of fingers is at ease, in millimetres (no source)."""

THUMB_REACH_MM = 45.0
"""Farthest that the thumb, over the neck, lies from the index finger's fret, in millimetres (no source)."""

FLAT_STRINGS = {INDEX: 7, MIDDLE: 3, RING: 4, LITTLE: 3}
"""Most strings that each finger lies flat over (no source; the index lies over the whole neck)."""
ARCHED_STRINGS, BRIDGED_STRINGS = 4, 3
"""Most strings that a flat finger lies over when it must leave a higher string free, and that another finger
than the index lies over when the middle one is stopped above it (no source)."""


@dataclass(frozen=True, slots=True)
class HandCost:
    """What each thing costs the hand. Bare numbers, weighed against each other only (no source).

    Attributes:
        stretch: two fingers at the end of their reach; falls with the square to nothing at their ease.
        off_fret: each fret by which two neighbours lie closer or farther than one finger a fret.
        across: each string past the second that lies between one finger and the next.
        flat: laying the index, middle, ring and little finger flat.
        flat_string: each string past the first over which the index lies, and any other finger.
        arch: a flat finger that must leave a higher string free to sound lower.
        bridge: a flat finger, not the index, with another string stopped above it between its own.
        weak: putting down the index, middle, ring and little finger.
        thumb: using the thumb.
        high_fret: each fret above the twelfth, where the body is in the way.
    """

    stretch: float = 1.5
    off_fret: float = 0.15
    across: float = 0.08
    flat: tuple[float, float, float, float] = (0.3, 0.6, 0.4, 0.6)
    flat_string: tuple[float, float] = (0.03, 0.12)
    arch: float = 0.5
    bridge: float = 0.6
    weak: tuple[float, float, float, float] = (0.0, 0.0, 0.03, 0.06)
    thumb: float = 0.8
    high_fret: float = 0.1


@dataclass(frozen=True, slots=True)
class Hand:
    """A player's fretting hand.

    Attributes:
        fingers: how many may be at work at once, whichever they are, 1 to 4; the thumb is not counted.
        thumb: whether the thumb may stop the lowest string.
        damps: whether it must damp every silent string between sounding ones, as a pick needs.
        size: factor on every reach and ease; 1 is the hand that the figures above describe.
        cost: what each thing costs it.

    Raises:
        ValueError: if there are not one to four fingers, or the size is not within 0.7 to 1.4.
    """

    fingers: int = 4
    thumb: bool = False
    damps: bool = False
    size: float = 1.0
    cost: HandCost = HandCost()

    def __post_init__(self) -> None:
        if not 1 <= self.fingers <= LITTLE:
            raise ValueError(f"a hand of {self.fingers!r} fingers; allowed is 1 to 4")
        if not 0.7 <= self.size <= 1.4:
            raise ValueError(f"a hand of size {self.size!r}; allowed is 0.7 to 1.4, where 1 is common")

    @property
    def span_mm(self) -> float:
        """Farthest that the whole hand reaches along the neck, in millimetres."""
        return REACH_MM[INDEX, LITTLE] * self.size

    def strain(self, lower: int, upper: int, distance_mm: float) -> float | None:
        """What it costs two fingers to lie so far apart; None when they cannot.

        Args:
            lower: the finger with the lower number, 1 to 3.
            upper: the other, 2 to 4.
            distance_mm: along the neck, from 0.
        """
        reach = REACH_MM[lower, upper] * self.size
        ease = EASE_MM[lower, upper] * self.size
        if distance_mm > reach:
            return None
        if distance_mm <= ease:
            return 0.0
        return self.cost.stretch * ((distance_mm - ease) / (reach - ease)) ** 2

    def flat(self, finger: int, spanned: int, *, arched: bool, bridged: bool) -> float:
        """What laying a finger flat over so many strings costs.

        Args:
            finger: 1 to 4.
            spanned: strings from the first to the last that it covers, 2 to 7.
            arched: whether it must leave a higher string free to sound lower.
            bridged: whether a string between its own is stopped above it, or silent.
        """
        cost = self.cost
        total = cost.flat[finger - 1] + cost.flat_string[finger != INDEX] * (spanned - 1)
        total += cost.arch if arched else 0.0
        return total + (cost.bridge if bridged and finger != INDEX else 0.0)
