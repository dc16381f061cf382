"""String sets: where on the neck the voices of each family lie.

Strings are numbered from the highest, and given from the lowest voice up. Drop 2 lies on four neighbouring
strings, drop 3 skips one under its lowest voice ([DV3], [DV2]); a shell has its root on string 6 or
5, third and seventh on the two middle strings ([SH1]). The rest is common practice, no source.
"""

from __future__ import annotations

from functools import lru_cache

Strings = tuple[int, ...]

BASS_STRINGS = 3
"""A guitar alone has its bass notes on the three lowest strings."""

ROOTED_SHELLS: dict[str, tuple[Strings, ...]] = {"1-7-3": ((6, 4, 3),), "1-3-7": ((5, 4, 3),)}
"""Shells with the root, by the order of their tones from below."""

_SHAPES: dict[tuple[str, int], tuple[Strings, ...]] = {
    ("shell", 1): ((0,),),
    ("shell", 2): ((1, 0), (2, 0), (3, 0)),
    ("shell", 3): ((2, 1, 0), (3, 1, 0), (3, 2, 0)),
    ("spread", 2): ((1, 0), (2, 0), (3, 0)),
    ("spread", 3): ((2, 1, 0), (3, 1, 0), (3, 2, 0), (4, 1, 0), (4, 2, 0), (5, 2, 0)),
    ("drop 2", 4): ((3, 2, 1, 0),),
    ("rootless", 4): ((3, 2, 1, 0),),
    ("drop 3", 4): ((4, 2, 1, 0),),
    ("quartal", 3): ((2, 1, 0),),
    ("quartal", 4): ((3, 2, 1, 0),),
    ("spread", 4): ((4, 2, 1, 0), (5, 2, 1, 0)),
    ("upper structure", 4): ((3, 2, 1, 0), (4, 2, 1, 0)),
    ("upper structure", 5): ((4, 3, 2, 1, 0),),
}
"""Family and number of voices -> strings counted from the highest one that is used."""


@lru_cache(maxsize=64)
def string_sets(family: str, voices: int, strings: int, *, bass_in_grip: bool = False) -> tuple[Strings, ...]:
    """The string sets of a family on a neck; none where a guitar does not play it.

    Args:
        family: of `shapes.FAMILIES`.
        voices: how many.
        strings: of the neck, 6 or 7.
        bass_in_grip: True where the lowest voice lies on one of the three lowest strings.
    """
    deepest = strings - BASS_STRINGS if bass_in_grip else 0
    return tuple(
        tuple(string + highest for string in shape)
        for shape in _SHAPES.get((family, voices), ())
        for highest in range(1, strings - shape[0] + 1)
        if shape[0] + highest > deepest
    )
