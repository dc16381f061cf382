"""Which parts sound otherwise in a tune than anywhere else, as the wire counts programs."""

from __future__ import annotations

from introit.library.tune import Tune
from introit.performance import PARTS, Sound


def sounds_of(tune: Tune) -> tuple[Sound, ...]:
    """The tune's own sounds; a part once."""
    return tuple(
        Sound(PARTS.index(own.part), None if own.program is None else own.program - 1, own.level)
        for own in tune.sounds
    )
