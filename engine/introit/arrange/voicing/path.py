"""The voicings of a whole intro: one for each unit, found together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from introit.arrange.form import ArrangeError
from introit.arrange.plan import PlannedChord
from introit.arrange.scene import Scene
from introit.arrange.voicing.board import Board
from introit.arrange.voicing.choice import candidates_for
from introit.arrange.voicing.hits import Hits
from introit.arrange.voicing.material import material_of
from introit.arrange.voicing.problem import problem_of
from introit.arrange.voicing.voicing import Voicing
from introit.arrange.voicing.ways import FORBIDDEN, Stand, alike, jumps, ways
from introit.arrange.voicing.wish import Wish
from introit.theory.plucking import Plucking
from introit.units import TICKS_PER_QUARTER


def voice(scene: Scene, wishes: Sequence[Wish], *, hits: Hits | None = None) -> tuple[Voicing, ...]:
    """A voicing for each unit of a scene.

    Args:
        scene: the units and who plays them.
        wishes: one for each unit.
        hits: how often each unit is struck, and when, where that is known; else a unit weighs by its length.
            One that is not in it is never heard, and goes with its neighbours; one with 0 rings by itself.

    Raises:
        ArrangeError: when floor and ceiling leave a chord no room.
    """
    planned = [scene.chord_of(unit) for unit in range(len(scene.units))]
    board = board_of(scene)
    materials = [
        material_of(one, key=scene.plan.key, beside=(pitch % 12 for pitch in wish.over))
        for one, wish in zip(planned, wishes, strict=True)
    ]
    if scene.seats.one_pair_of_hands:  # under a melody and over its own bass it has no finger left for it
        materials = [one._replace(telling=None) for one in materials]
    found = [candidates_for(*asked, board) for asked in zip(materials, wishes, strict=True)]
    for one, wish, candidates in zip(planned, wishes, found, strict=True):
        if not candidates.voicings:
            raise ArrangeError(_no_room(scene, one, wish))
    stands = [
        Stand(one, material.guides, material.tensions) for one, material in zip(found, materials, strict=True)
    ]
    known = hits if hits and hits.times else None
    heard = sorted(known.times) if known else range(len(planned))
    problem = problem_of(scene, heard, wishes, stands, board)
    if known:
        problem.weigh([known.times[unit] for unit in heard])
        problem.strike([known.first.get(unit, scene.units[unit].start) for unit in heard])
    chosen = dict(zip(heard, problem.solve(), strict=True))
    for unit in range(len(planned)):
        if unit not in chosen:
            chosen[unit] = _between(scene, unit, chosen, stands, board)
    return tuple(candidates.voicings[chosen[unit]] for unit, candidates in enumerate(found))


def _between(
    scene: Scene, unit: int, chosen: Mapping[int, int], stands: Sequence[Stand], board: Board
) -> int:
    """The candidate for a unit that is never heard: near the ones before and after it."""
    prices = stands[unit].candidates.price.copy()
    for before, after in ((unit - 1, unit), (unit, unit + 1)):
        other = before + after - unit
        if other in chosen:
            same = alike(scene.chord_of(before), scene.chord_of(after))
            far = ways(stands[before], stands[after], same, board.neck)
            if board.neck is not None:
                positions = (stands[one].candidates.positions for one in (before, after))
                far = far + FORBIDDEN * jumps(*positions)
            prices += far[chosen[other]] if other == before else far[:, chosen[other]]
    return int(prices.argmin())


def board_of(scene: Scene) -> Board:
    """What a scene's comp is played on."""
    if scene.seats.comp_on == "keys":
        return Board(None, Plucking.FINGERS)
    return Board(scene.stage.fretboard, scene.stage.plucking)


def _no_room(scene: Scene, planned: PlannedChord, wish: Wish) -> str:
    return (
        f"intro {scene.plan.intro.id!r}, beat {planned.onset // TICKS_PER_QUARTER + 1}: "
        f"{planned.chord.symbol} has no voicing between MIDI {wish.floor} and {wish.ceiling}"
    )
