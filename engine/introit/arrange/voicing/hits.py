"""How often each voicing of an intro is struck, and when first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple


class Hits(NamedTuple):
    """Of each unit that is heard at all.

    Attributes:
        times: how often it is struck; 0 for one that rings in a rhythm of its texture's own.
        first: tick of its first hit; where it is not given, it is first heard where it begins.
    """

    times: Mapping[int, int]
    first: Mapping[int, int] = {}
