"""How long the comp's hits sound: some short, some held, each ending on a beat or an off-beat."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import NamedTuple

from introit.arrange.comping.figure import EIGHTH, SHORT, held_slots

SHARE = 0.3
"""Of the hits at least that share are short, and that share held. Common practice, no source."""
LEAST_HELD = 2 * EIGHTH
"""A hit that is held for want of others with more room sounds a beat at least, in ticks."""


class Hit(NamedTuple):
    """A hit whose length is to be found.

    Attributes:
        onset: tick.
        wished: ticks that its rhythm would have it sound.
        room: ticks until the next hit, the end of its chord, or the motif's next note.
        sure: of these, the ticks that nothing can take from it.
        fixed: whether its rhythm must be kept as it is.
    """

    onset: int
    wished: int
    room: int
    sure: int
    fixed: bool


def wanted(hits: int) -> int:
    """How many of so many hits are to be short, and how many held.

    One more than the share asks for, as far as both can be: a hand that must leave a grip may cut one, and a
    texture that rings may hold one on.
    """
    least = ceil(SHARE * hits)
    return max(least, min(least + 1, hits // 2))


def lengths(hits: Sequence[Hit], *, slots: int, rings: bool = False) -> list[int]:
    """Ticks that each hit sounds: as its rhythm has it, as far as there is room, some shortened or held on.

    What would be neither short nor held, for want of room, is short: a chord that is cut by the next change
    ends by chance, a short one on purpose.

    Args:
        hits: in order.
        slots: eighths in a bar.
        rings: whether every hit is left to ring, as in a ballad.
    """
    held = held_slots(slots) * EIGHTH
    found = [min(hit.wished, hit.room) for hit in hits]
    loose = [index for index, hit in enumerate(hits) if not hit.fixed]
    for index in loose:
        if rings:
            found[index] = hits[index].room
        elif SHORT < found[index] < held:
            found[index] = held if hits[index].room >= held else SHORT
    if rings:
        return found
    rooms, sure = [hits[index].room for index in loose], [hits[index].sure for index in loose]
    kept = balanced(rooms, [found[index] for index in loose], sure=sure, slots=slots)
    for index, length in zip(loose, kept, strict=True):
        found[index] = length
    return found


def balanced(
    rooms: Sequence[int], wished: Sequence[int], *, sure: Sequence[int] | None = None, slots: int = 8
) -> list[int]:
    """Ticks that hits sound: as wished, but for those that are held on or shortened for the shares' sake.

    Args:
        rooms: for each hit, ticks that it can sound at most.
        wished: for each hit, ticks that it would sound.
        sure: for each hit, ticks of its room that nothing can take from it; all of them when left out.
        slots: eighths in a bar.
    """
    found = list(wished)
    held = held_slots(slots) * EIGHTH
    safe = rooms if sure is None else sure
    for limits in (safe, rooms):
        for least in (held, LEAST_HELD):
            _hold_on(rooms, found, limits, least=least, most=held)
    _shorten(found, safe)
    return found


def _held(found: Sequence[int], limits: Sequence[int]) -> int:
    """How many are held within limits."""
    return sum(min(pair) >= LEAST_HELD for pair in zip(found, limits, strict=True))


def _hold_on(rooms: Sequence[int], found: list[int], limits: Sequence[int], *, least: int, most: int) -> None:
    """Holds on to the hits with most room within limits, so many ticks or more, until enough are held."""
    short = [index for index, length in enumerate(found) if length < least <= limits[index]]
    missing = wanted(len(found)) - _held(found, limits)
    for index in sorted(short, key=lambda index: -limits[index])[: max(0, missing)]:
        found[index] = rooms[index] if rooms[index] < 2 * most else most


def _shorten(found: list[int], sure: Sequence[int]) -> None:
    """Shortens the hits with least room until enough are short, as long as enough stay held."""
    longer = [index for index, length in enumerate(found) if length > SHORT]
    asked = wanted(len(found))
    spare = len(longer) - min(asked, _held(found, sure))
    missing = min(asked - (len(found) - len(longer)), spare)
    for index in sorted(longer, key=lambda index: sure[index])[: max(0, missing)]:
        found[index] = SHORT
