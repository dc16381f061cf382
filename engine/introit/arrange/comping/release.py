"""How long the comp's hits sound: some short, some held, each ending on a beat or an off-beat."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import NamedTuple

from introit.arrange.comping.figure import HELD, SHORT

SHARE = 0.3
"""Of the hits at least that share are short, and that share held. Common practice, no source."""


class Hit(NamedTuple):
    """A hit whose length is to be found.

    Attributes:
        onset: tick.
        wished: ticks that its rhythm would have it sound.
        room: ticks until the next hit, the end of its chord, or the motif's next note.
        fixed: whether its rhythm must be kept as it is.
    """

    onset: int
    wished: int
    room: int
    fixed: bool


def lengths(hits: Sequence[Hit]) -> list[int]:
    """Ticks that each hit sounds: as its rhythm has it, as far as there is room, some shortened or held on.

    What would be neither short nor held, for want of room, is short: a chord that is cut by the next change
    ends by chance, a short one on purpose.
    """
    found = [min(hit.wished, hit.room) for hit in hits]
    loose = [index for index, hit in enumerate(hits) if not hit.fixed]
    for index in loose:
        if SHORT < found[index] < HELD:
            found[index] = min(HELD, hits[index].room) if hits[index].room >= HELD else SHORT
    wanted = ceil(SHARE * len(loose))
    _hold_on(hits, found, [index for index in loose if hits[index].room >= HELD], wanted=wanted)
    _shorten(hits, found, loose, wanted=wanted)
    return found


def _hold_on(hits: Sequence[Hit], found: list[int], able: Sequence[int], *, wanted: int) -> None:
    """Holds on to the hits with most room until enough are held."""
    short = [index for index in able if found[index] < HELD]
    missing = wanted - (len(able) - len(short))
    for index in sorted(short, key=lambda index: -hits[index].room)[: max(0, missing)]:
        found[index] = hits[index].room if hits[index].room < 2 * HELD else HELD


def _shorten(hits: Sequence[Hit], found: list[int], loose: Sequence[int], *, wanted: int) -> None:
    """Shortens the hits with least room until enough are short, as long as enough stay held."""
    held = [index for index in loose if found[index] > SHORT]
    missing = min(wanted - (len(loose) - len(held)), len(held) - wanted)
    for index in sorted(held, key=lambda index: hits[index].room)[: max(0, missing)]:
        found[index] = SHORT
