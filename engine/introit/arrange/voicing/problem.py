"""The problem that the candidates of all units make: every price, for the search. Judgement, no source."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise
from typing import Any, TypeVar, cast

import numpy as np

from introit.arrange.plan import PlannedChord
from introit.arrange.scene import Scene
from introit.arrange.shifting import FREE_SHIFT
from introit.arrange.voicing.board import Board
from introit.arrange.voicing.candidates import Candidates
from introit.arrange.voicing.cost import Features, Pitches, Prices, movement_prices, top_leaps
from introit.arrange.voicing.hands import Positions, hand_prices, shifts
from introit.arrange.voicing.material import Material
from introit.arrange.voicing.search import Marks
from introit.arrange.voicing.shapes import FAMILIES
from introit.arrange.voicing.whole import FORBIDDEN, Whole
from introit.arrange.voicing.wish import Wish

NOISE, FAMILY_MOOD, REGISTER_MOOD = 2.0, 1.5, 0.2
"""What a playing may find dearer for once: each voicing, each family, each semitone of the top voice up or
down. So another seed takes another good way, and none takes a bad one."""
HAND_MOVE = 0.9
"""What one unit of the hand's own cost of moving is worth."""
SAME_GRIP, SAME_AGAIN = 1.5, 0.35
"""A new chord told by its bass alone; the same chord again with nothing moved."""
SAME_FORM = 0.5
"""The same form where the root moves by a fourth or fifth: forms alternate there ([RL], [Ty10])."""
TENSE, TENSE_AT_LAST, MOST_TENSE = 0.7, 0.6, 3
"""Each tension past the first costs, but on the last dominant each is welcome."""
_NOBODY = 1e6

Numbers = TypeVar("Numbers", bound=np.ndarray[Any, Any])


def problem_of(
    scene: Scene,
    planned: Sequence[PlannedChord],
    materials: Sequence[Material],
    wishes: Sequence[Wish],
    found: Sequence[Candidates],
    board: Board,
) -> Whole:
    """The problem that the candidates of all units make."""
    pitches = _packed([one.pitches for one in found], -1)
    pitches = pitches[..., : max(1, int((pitches >= 0).any(axis=(0, 1)).sum()))]
    features = Features(
        pitches,
        _among(pitches, [material.guides for material in materials]),
        _among(pitches, [material.tensions for material in materials]),
    )
    last = max((unit for unit, one in enumerate(planned) if one.chord.is_dominant), default=None)
    tensions = _packed([one.tensions for one in found], 0)
    own = _packed([one.price for one in found], _NOBODY) + _tension_price(tensions, last)
    codes = _packed([one.codes for one in found], -1)
    own += _mood(scene, own.shape, codes=codes, top=features.top)
    _part_ways(own, planned, found)
    moves = movement_prices(features)
    _price_repeats(moves, planned, pitches, codes)
    plain = _packed([one.plain for one in found], 0).astype(np.bool_)
    if last is not None:
        plain[last] = False  # the densest chord is none
    whole = Whole(
        own=own,
        moves=moves,
        plain=plain,
        voices=(pitches >= 0).sum(axis=2) - np.array([[wish.bass_in_grip] for wish in wishes]),
        tensions=tensions,
        leaps=top_leaps(features),
        jumps=None,
        bars=[unit.start // scene.plan.bar_ticks for unit in scene.units],
        weights=np.array([unit.end - unit.start for unit in scene.units]),
        chords=[unit.chord for unit in scene.units],
        last_dominant=last,
    )
    if board.neck is not None:
        positions = _packed([one.positions for one in found], 0)
        stops = _packed([one.stops for one in found], 0).astype(np.int8)
        whole.moves += HAND_MOVE * hand_prices(stops, positions, board.neck)
        whole.jumps = _jumps(positions)
        resting = np.array([wish.rest_before for wish in wishes[1:]], dtype=np.bool_)
        whole.moves += FORBIDDEN * (whole.jumps & ~resting[:, None, None])
    return whole


def _mood(scene: Scene, shape: tuple[int, ...], *, codes: Pitches, top: Pitches) -> Prices:
    """What differs from one playing to the next."""
    dice = np.random.default_rng(scene.dice("voicing").getrandbits(64))
    mood: Prices = NOISE * dice.random(shape)
    mood += (FAMILY_MOOD * dice.random(len(FAMILIES) + 1))[codes // 12]
    return mood + REGISTER_MOOD * (2 * dice.random() - 1) * top


def _packed(rows: Sequence[Numbers], fill: float) -> Numbers:
    """Arrays of different length as one, the shorter ones filled up."""
    most = max(len(row) for row in rows)
    packed = np.full((len(rows), most, *rows[0].shape[1:]), fill, dtype=rows[0].dtype)
    for number, row in enumerate(rows):
        packed[number, : len(row)] = row
    return cast("Numbers", packed)


def _among(pitches: Pitches, classes: Sequence[Sequence[int] | frozenset[int]]) -> Marks:
    table = np.zeros((len(classes), 12), dtype=np.bool_)
    for unit, wanted in enumerate(classes):
        table[unit, list(wanted)] = True
    return table[np.arange(len(classes))[:, None, None], pitches % 12] & (pitches >= 0)


def _jumps(positions: Positions) -> Marks:
    far: Marks = shifts(positions) > FREE_SHIFT
    return far


def _tension_price(tensions: Pitches, last_dominant: int | None) -> Prices:
    price: Prices = TENSE * np.maximum(tensions - 1, 0).astype(np.float64)
    if last_dominant is not None:
        price[last_dominant] = -TENSE_AT_LAST * np.minimum(tensions[last_dominant], MOST_TENSE)
    return price


def _part_ways(own: Prices, planned: Sequence[PlannedChord], found: Sequence[Candidates]) -> None:
    """Gives each grip to one chord where several follow each other over one bass: none shares it."""
    for _, run in groupby(range(len(planned)), key=lambda unit: _bass(planned[unit])):
        units = list(run)
        if len({planned[unit].chord.symbol for unit in units}) > 1:
            _share_out(own, units, planned, found)


def _share_out(
    own: Prices, units: Sequence[int], planned: Sequence[PlannedChord], found: Sequence[Candidates]
) -> None:
    """To the chord that would lose most without it: the one for which it is nearest to the cheapest."""
    owners: dict[tuple[int, ...], tuple[float, str]] = {}
    for unit in units:
        symbol = planned[unit].chord.symbol
        over_cheapest = (found[unit].price - found[unit].price[0]).tolist()
        for voicing, price in zip(found[unit].voicings, over_cheapest, strict=True):
            owners[voicing.pitches] = min(owners.get(voicing.pitches, (price, symbol)), (price, symbol))
    for unit in units:
        symbol = planned[unit].chord.symbol
        others = [owners[voicing.pitches][1] != symbol for voicing in found[unit].voicings]
        if not all(others):
            own[unit, : len(others)] += FORBIDDEN * np.array(others)


def _price_repeats(moves: Prices, planned: Sequence[PlannedChord], pitches: Pitches, codes: Pitches) -> None:
    """Prices of the same grip, and of the same form, twice running."""
    grips = (pitches + 1) @ (128 ** np.arange(pitches.shape[2]))  # one number a grip
    for unit, (before, after) in enumerate(pairwise(planned)):
        same = grips[unit][:, None] == grips[unit + 1][None]
        if before.chord.symbol == after.chord.symbol and _bass(before) == _bass(after):
            moves[unit] += SAME_AGAIN * same
            continue
        moves[unit] += (SAME_GRIP if _bass(before) != _bass(after) else FORBIDDEN) * same
        if (after.chord.root.pitch_class - before.chord.root.pitch_class) % 12 in (5, 7):
            moves[unit] += SAME_FORM * (codes[unit][:, None] == codes[unit + 1][None])


def _bass(planned: PlannedChord) -> int:
    return (planned.pedal or planned.chord.bass).pitch_class
