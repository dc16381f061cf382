"""What came of a rehearsal, as a test compares it."""

from __future__ import annotations

from collections import Counter

from introit.testing.rehearsal import Rehearsal
from introit.units import NS_PER_SECOND


def states(rehearsal: Rehearsal) -> list[tuple[float, str]]:
    """The states as they began: (second, name)."""
    return [(ns / NS_PER_SECOND, state) for ns, state in rehearsal.states()]


def notes(rehearsal: Rehearsal) -> list[str]:
    """What the player was told in words."""
    return [shown.text for shown in rehearsal.shown if shown.what == "note"]


def ends_in_silence(rehearsal: Rehearsal) -> bool:
    """Whether at no port anything sounds, and each note that was struck was released once and no more.

    For an undisturbed playing: where cycles are lost, offs are repeated.
    """
    for receiver in rehearsal.receivers:
        ons = Counter(sent.data[:2] for sent in receiver.ons())
        offs = Counter(bytes((sent.data[0] | 0x10, sent.data[1])) for sent in receiver.offs())
        if receiver.sounding or ons != offs:
            return False
    return True
