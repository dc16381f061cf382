"""Bars of harmony, as an intro's forms and a tune's chart have them."""

from __future__ import annotations

from dataclasses import dataclass

from introit.theory.numeral import Numeral


@dataclass(frozen=True, slots=True)
class HeadDominant:
    """`H` in an intro's harmony: a dominant (or sus) of the head's first chord, found when the tune is known.

    Attributes:
        text: as written: `H` (a dominant seventh with the tensions of its target) or `Hsus` (its sus form).
    """

    text: str

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class Slot:
    """One chord of a form, with its share of the bar left to the meter.

    Attributes:
        chord: a numeral, or the head's dominant.
        share: how many of the bar's `Bar.shares` it takes, from 1.
    """

    chord: Numeral | HeadDominant
    share: int = 1


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar of a form: one chord, two (sharing 2+2, 2+1 in 3/4, 3+2 in 5/4), or one a beat; `.` goes on."""

    slots: tuple[Slot, ...]

    @property
    def shares(self) -> int:
        """How many equal or uneven shares the bar was written in."""
        return sum(slot.share for slot in self.slots)
