"""What sounds over the bass, and which bass notes it forbids: sets of MIDI notes as bits of an integer.

Three things are forbidden: a minor ninth under a sounding note, a dominant's own b9 over its root apart; an
interval below its low-interval limit; and less than the line-up's distance under the comp.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from introit.arrange.bass.station import Station
from introit.arrange.plan import Plan
from introit.arrange.score import COMP, ScoreNote
from introit.arrange.tones import MINOR_NINTHS
from introit.theory.limits import LOW_INTERVAL_LIMITS
from introit.units import TICKS_PER_QUARTER

Bits = int

SHORTEST = TICKS_PER_QUARTER // 2
"""Ticks that a bass note sounds before it may be let go for a note that comes in above it."""
_MINOR_NINTH, _TOO_NEAR, _LET_GO = 500.0, 250.0, 1.2
"""Prices: more than any rule of the line; a note that must be let go early is only a little dearer."""
_B9 = 1


class Over(NamedTuple):
    """What sounds over one station.

    Attributes:
        held: notes that are there when it begins, or come at once.
        own: those among `held` that belong to its chord.
        comp: those among `held` that the comp plays.
        later: notes that come in while it sounds, with their onsets.
    """

    held: Bits = 0
    own: Bits = 0
    comp: Bits = 0
    later: tuple[tuple[int, Bits, bool, bool], ...] = ()


class Stack(NamedTuple):
    """Notes of one part that begin and end together."""

    onset: int
    end: int
    harmony_tick: int
    comp: bool


def stacked(above: Iterable[ScoreNote]) -> list[tuple[Stack, Bits]]:
    """The notes above, in stacks."""
    stacks: dict[tuple[int, int, int, bool], Bits] = {}
    for note in above:
        key = note[0], note[0] + note[1], note[2], note[3] == COMP
        stacks[key] = stacks.get(key, 0) | 1 << note[4]
    return [(Stack(*key), bits) for key, bits in stacks.items()]


def over(stations: Sequence[Station], stacks: Sequence[tuple[Stack, Bits]], plan: Plan) -> list[Over]:
    """What sounds over each station."""
    found = [Over()] * len(stations)
    ends = [station.end for station in stations]
    for stack, bits in stacks:
        for index in range(bisect_right(ends, stack.onset), len(stations)):
            station = stations[index]
            if station.onset >= stack.end:
                break
            own = stack.harmony_tick == plan.chords[station.chord].onset
            found[index] = _with(found[index], stack, bits, own=own, from_=station.onset)
    return found


def _with(one: Over, stack: Stack, bits: Bits, *, own: bool, from_: int) -> Over:
    if stack.onset >= from_ + SHORTEST:
        return one._replace(later=(*one.later, (stack.onset, bits, own, stack.comp)))
    return Over(
        one.held | bits,
        one.own | bits if own else one.own,
        one.comp | bits if stack.comp else one.comp,
        one.later,
    )


def priced(
    options: Iterable[tuple[int, float]], above: Over, *, root: int | None, distance: int
) -> list[tuple[int, float]]:
    """The options, dearer where what sounds above forbids them.

    Args:
        options: pitches and prices.
        above: what sounds.
        root: pitch class of a dominant's root, which bears its own b9; None for other chords.
        distance: semitones that the bass keeps under the comp's lowest note.
    """
    rubs, near = _minor_ninths(above.held), too_near(above.held, above.comp, distance)
    under_b9 = _minor_ninths(above.held & ~_class_bits(above.own, root)) if root is not None else rubs
    early = 0
    for _, bits, own, comp in above.later:
        spared = bits & ~_class_bits(bits, root) if root is not None and own else bits
        early |= _minor_ninths(spared) | too_near(bits, bits if comp else 0, distance)
    if not (rubs | near | early):
        return list(options)
    return [
        (
            pitch,
            price
            + _MINOR_NINTH * ((under_b9 if pitch % 12 == root else rubs) >> pitch & 1)
            + _TOO_NEAR * (near >> pitch & 1)
            + _LET_GO * (early >> pitch & 1),
        )
        for pitch, price in options
    ]


def let_go_at(pitch: int, above: Over, *, root: int | None, distance: int) -> int | None:
    """Tick at which a bass note must end for a note that comes in over it; None where it may stay."""
    for onset, bits, own, comp in sorted(above.later):
        spared = bits & ~_class_bits(bits, root) if own and pitch % 12 == root else bits
        if (_minor_ninths(spared) | too_near(bits, bits if comp else 0, distance)) >> pitch & 1:
            return onset
    return None


def _class_bits(bits: Bits, root: int | None) -> Bits:
    """Those of the notes that are the b9 over a root."""
    return 0 if root is None else bits & _OCTAVES[(root + _B9) % 12]


_OCTAVES = [sum(1 << pitch for pitch in range(pitch_class, 128, 12)) for pitch_class in range(12)]


@lru_cache(maxsize=16384)
def _minor_ninths(bits: Bits) -> Bits:
    """Notes a minor ninth, or a half step or its octaves, under any of these."""
    forbidden = 0
    for interval in MINOR_NINTHS:
        forbidden |= bits >> interval
    return forbidden


@lru_cache(maxsize=16384)
def too_near(bits: Bits, comp: Bits, distance: int) -> Bits:
    """Notes whose interval with any of these is too low, or that lie too near under the comp's lowest."""
    forbidden = 0
    for interval, lowest in LOW_INTERVAL_LIMITS.items():
        forbidden |= (bits >> interval) & ((1 << lowest) - 1)
    if comp:
        bottom = (comp & -comp).bit_length() - 1
        forbidden |= ~((1 << max(0, bottom - distance + 1)) - 1) & ((1 << 128) - 1)
    return forbidden
