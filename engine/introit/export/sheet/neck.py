"""Where a line lies on the neck, for a melody that a guitar may play beside others.

The whole line's way is found at once (dynamic programming): least movement of the hand, low frets rather than
high ones, no open strings in the midst of a position. No source; weights are judgement.
"""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.score import ScoreNote
from introit.theory.fretboard import Fretboard, Place

_REACH = 3
"""Frets within which the hand stays where it is."""
_SHIFT, _HIGH, _SKIP, _OPEN = 3.0, 0.15, 0.4, 1.0
"""Prices: of a fret beyond the reach, of each fret up the neck, of each string crossed, of an open string."""
_USUAL_HIGHEST = 12
_FAR = 1.0
"""Price of each fret over the octave's: there the neck is reached with difficulty."""


def placed(line: Sequence[ScoreNote], neck: Fretboard, *, kept: Sequence[ScoreNote] = ()) -> list[ScoreNote]:
    """The notes with string and fret; what has no place on the neck is left as it is.

    Args:
        line: in order of onset; notes that have a place already keep it.
        neck: the guitar's.
        kept: notes that sound beside them on the same guitar's staff: their strings are left to them.
    """
    choices = [_choices(note, neck, kept) for note in line]
    costs: list[dict[Place, float]] = []
    ways: list[dict[Place, Place | None]] = []
    before: dict[Place, float] = {}
    for places in choices:
        now: dict[Place, float] = {}
        way: dict[Place, Place | None] = {}
        for place in places:
            from_, cost = None, 0.0
            if before:
                from_, cost = min(
                    ((old, paid + _move(old, place)) for old, paid in before.items()), key=lambda one: one[1]
                )
            now[place], way[place] = cost + _price(place), from_
        costs.append(now)
        ways.append(way)
        before = now or before
    return _followed_back(line, costs, ways)


def _followed_back(
    line: Sequence[ScoreNote], costs: Sequence[dict[Place, float]], ways: Sequence[dict[Place, Place | None]]
) -> list[ScoreNote]:
    found = list(line)
    place: Place | None = None
    for index in range(len(line) - 1, -1, -1):
        if not costs[index]:
            continue
        if place is None or place not in costs[index]:
            place = min(costs[index], key=costs[index].__getitem__)
        found[index] = line[index]._replace(string=place.string, fret=place.fret)
        place = ways[index][place]
    return found


def _choices(note: ScoreNote, neck: Fretboard, kept: Sequence[ScoreNote]) -> list[Place]:
    if note.string is not None and note.fret is not None:
        return [Place(note.string, note.fret)]
    strings = len(neck.tuning)
    taken = {other.string for other in kept if other.onset < note.end and note.onset < other.end}
    rows = ((strings - row, frets[note.pitch]) for row, frets in enumerate(neck.fret_table))
    return [Place(string, fret) for string, fret in rows if 0 <= fret <= neck.frets and string not in taken]


def _price(place: Place) -> float:
    return (
        _HIGH * place.fret + _FAR * max(0, place.fret - _USUAL_HIGHEST) + (_OPEN if place.fret == 0 else 0.0)
    )


def _move(old: Place, new: Place) -> float:
    shift = max(0, abs(new.fret - old.fret) - _REACH) if new.fret and old.fret else 0
    return _SHIFT * shift + _SKIP * max(0, abs(new.string - old.string) - 1)
