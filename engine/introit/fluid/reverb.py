"""Which parts have reverb: the room is the melody's and the comp's, and the bass stays clear of it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

DRY_PARTS: Final = frozenset({"bass", "pedal", "click"})
"""Parts without any: low notes in a reverb run into each other, a click must be short (common practice, no
source). The others have what FluidSynth gives them unasked: a small room, and controller 91 at 40."""


def dry_channels(parts: Iterable[tuple[str, int]]) -> list[int]:
    """Channels that have no reverb: those that only dry parts play on.

    Args:
        parts: name (see `performance.PARTS`) and channel of each that plays on the synth.
    """
    parts = list(parts)
    wet = {channel for part, channel in parts if part not in DRY_PARTS}
    return sorted({channel for _, channel in parts} - wet)
