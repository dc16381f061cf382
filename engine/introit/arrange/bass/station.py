"""One note of the bass before its pitch is chosen."""

from __future__ import annotations

from typing import NamedTuple

AGAIN = "again"
"""The tone of a root that is not the first of its chord."""


class Station(NamedTuple):
    """One note of the bass before its pitch is chosen.

    Attributes:
        onset, end: ticks.
        tone: a word of a manner; or a root that is not the first of its chord: `again`, and in a walking line
            `lasting`.
        chord: index of the plan's chord that it belongs to.
        walks: whether the rules of a walking line hold for it.
        target: pitch class of the coming root, for the tones that lead there.
    """

    onset: int
    end: int
    tone: str
    chord: int
    walks: bool
    target: int | None = None
