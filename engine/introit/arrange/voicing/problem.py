"""The problem that the candidates of all units make: every price, for the search. Judgement, no source."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from introit.arrange.plan import PlannedChord
from introit.arrange.scene import Scene
from introit.arrange.voicing.board import Board
from introit.arrange.voicing.candidates import Candidates, packed
from introit.arrange.voicing.cost import Pitches, Prices, top_leaps
from introit.arrange.voicing.search import Marks
from introit.arrange.voicing.shapes import FAMILIES
from introit.arrange.voicing.ways import FORBIDDEN, Stand, Ways, alike, bass_of, jumps, tones_of, ways
from introit.arrange.voicing.whole import Whole
from introit.arrange.voicing.wish import Wish

NOISE, FAMILY_MOOD, REGISTER_MOOD = 2.0, 1.5, 0.2
"""What a playing may find dearer for once: each voicing, each family, each semitone of the top voice up or
down. So another seed takes another good way, and none takes a bad one."""
SAME_TONES = 40.0
"""One grip for two chords that are the same tones over one bass: only where no line can do without."""
TENSE, TENSE_AT_LAST, MOST_TENSE = 0.7, 0.6, 3
"""Each tension past the first costs, but on the last dominant each is welcome."""
_NOBODY = 1e6


def problem_of(
    scene: Scene, heard: Sequence[int], wishes: Sequence[Wish], stands: Sequence[Stand], board: Board
) -> Whole:
    """The problem that the candidates of all units that are heard make.

    Args:
        scene: where.
        heard: indices of these units, in order.
        wishes: one for each unit of the scene.
        stands: one for each unit of the scene.
        board: what they are played on.
    """
    units = [scene.units[unit] for unit in heard]
    planned = [scene.chord_of(unit) for unit in heard]
    wishes = [wishes[unit] for unit in heard]
    stands = [stands[unit] for unit in heard]
    found = [stand.candidates for stand in stands]
    last = max((unit for unit, one in enumerate(planned) if one.chord.is_dominant), default=None)
    tensions = packed([one.tensions for one in found], 0)
    for unit, wish in enumerate(wishes):
        if wish.tense is not None:
            tensions[unit] = wish.tense
    own = packed([one.price for one in found], _NOBODY) + _tension_price(tensions, last)
    tops = packed([one.tops for one in found], 0)
    own += _mood(scene, found, tops)
    _part_ways(own, planned, found)
    plain = packed([one.plain for one in found], 0)
    if last is not None:
        plain[last] = False  # the densest chord is none
    between = [
        ways(before, after, alike(*chords), board.neck)
        for (before, after), chords in zip(pairwise(stands), pairwise(planned), strict=True)
    ]
    moves = _side_by_side(between, own.shape[1])
    far: Marks | None = None
    if board.neck is not None:
        positions = packed([one.positions for one in found], 0)
        far = jumps(positions[:-1], positions[1:])
        resting = np.array([wish.rest_before for wish in wishes[1:]], dtype=np.bool_)
        moves += FORBIDDEN * (far & ~resting[:, None, None])
    return Whole(
        own=own,
        moves=moves,
        plain=plain,
        voices=packed([one.voices for one in found], 0) - np.array([[wish.bass_in_grip] for wish in wishes]),
        tensions=tensions,
        leaps=top_leaps(tops[:-1], tops[1:]).astype(np.int8),
        jumps=far,
        ticks=[unit.start for unit in units],
        bar_ticks=scene.plan.bar_ticks,
        weights=np.array([unit.end - unit.start for unit in units]),
        chords=[unit.chord for unit in units],
        last_dominant=last,
        held=any(wish.top and wish.lowest_top == wish.ceiling for wish in wishes),
    )


def _side_by_side(between: Sequence[Ways], most: int) -> Prices:
    """Prices of all ways, filled up to the most candidates."""
    moves = np.zeros((len(between), most, most))
    for number, way in enumerate(between):
        rows, columns = way.shape
        moves[number, :rows, :columns] = way
    return moves


def _mood(scene: Scene, found: Sequence[Candidates], tops: Pitches) -> Prices:
    """What differs from one playing to the next."""
    codes = packed([one.codes for one in found], -1)
    dice = np.random.default_rng(scene.dice("voicing").getrandbits(64))
    mood: Prices = NOISE * dice.random(tops.shape)
    mood += (FAMILY_MOOD * dice.random(len(FAMILIES) + 1))[codes // 12]
    return mood + REGISTER_MOOD * (2 * dice.random() - 1) * tops


def _tension_price(tensions: Pitches, last_dominant: int | None) -> Prices:
    price: Prices = TENSE * np.maximum(tensions - 1, 0).astype(np.float64)
    if last_dominant is not None:
        price[last_dominant] = -TENSE_AT_LAST * np.minimum(tensions[last_dominant], MOST_TENSE)
    return price


def _part_ways(own: Prices, planned: Sequence[PlannedChord], found: Sequence[Candidates]) -> None:
    """Gives each grip to one chord where several follow each other over one bass: no other shares it.

    One of the same tones may at a high price: by its tones alone it is the same chord.
    """
    for _, run in groupby(range(len(planned)), key=lambda unit: bass_of(planned[unit])):
        units = list(run)
        names = tuple(_Name(planned[unit].chord.symbol, tones_of(planned[unit])) for unit in units)
        if len(set(names)) > 1:
            taken = _taken(names, tuple(found[unit] for unit in units))
            for unit, dearer in zip(units, taken, strict=True):
                own[unit, : len(dearer)] += dearer


class _Name(NamedTuple):
    """A chord's symbol, and the pitch classes that it names, its fifth and the bass among them."""

    symbol: str
    tones: frozenset[int]


@lru_cache(maxsize=512)
def _taken(names: tuple[_Name, ...], found: tuple[Candidates, ...]) -> list[Prices]:
    """How much dearer a chord's candidates are that are another's.

    One goes to the chord that would lose most without it: that is the one for which it is nearest to the
    cheapest. A chord to which none is left shares them all.
    """
    owners: dict[tuple[int, ...], tuple[float, str]] = {}
    tones = dict(names)
    for name, one in zip(names, found, strict=True):
        over_cheapest = (one.price - one.price[0]).tolist()
        for voicing, price in zip(one.voicings, over_cheapest, strict=True):
            owners[voicing.pitches] = min(
                owners.get(voicing.pitches, (price, name.symbol)), (price, name.symbol)
            )
    taken = []
    for name, one in zip(names, found, strict=True):
        owner = [owners[voicing.pitches][1] for voicing in one.voicings]
        by_others = np.array([symbol != name.symbol for symbol in owner])
        same = np.array([tones[symbol] == name.tones for symbol in owner])
        dearer: Prices = np.where(same, SAME_TONES, FORBIDDEN) * (by_others & ~by_others.all())
        taken.append(dearer)
    return taken
