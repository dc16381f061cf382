"""The candidates for one chord, with all that the search for a path has to know of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, cast

import numpy as np
import numpy.typing as npt

from introit.arrange.voicing.cost import Prices
from introit.arrange.voicing.hands import Stops, positions_of, stops_of
from introit.arrange.voicing.material import Material
from introit.arrange.voicing.placing import ABSENT, MOST_VOICES, Notes
from introit.arrange.voicing.shapes import FAMILIES
from introit.arrange.voicing.voicing import Voicing
from introit.theory.fingering import Fingering
from introit.theory.hand import THUMB

Table = TypeVar("Table", bound=np.ndarray[Any, Any])

_FAMILY_NUMBER = {family: number for number, family in enumerate((*FAMILIES, "bell"))}


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """The candidates for one chord, cheapest first.

    Attributes:
        voicings: n of them.
        pitches: (n, 6) their MIDI notes, -1 where there are fewer.
        tops: (n,) the highest of them.
        voices: (n,) how many.
        price: (n,) what each costs by itself.
        plain: (n,) whether it is a plain shell.
        tensions: (n,) how many tensions it has.
        codes: (n,) one number a family and tone at the bottom: the same form on another root has the same.
        stops: (n, 5, 3) the fingers at work, see `hands.stops_of`; all 0 on keys.
        positions: (n,) fret of the hand's position; 0 on keys.
    """

    voicings: tuple[Voicing, ...]
    pitches: Notes
    tops: Notes
    voices: Notes
    price: Prices
    plain: npt.NDArray[np.bool_]
    tensions: Notes
    codes: Notes
    stops: Stops
    positions: Notes


def gathered(
    voicings: Sequence[tuple[Voicing, float]],
    fingerings: Sequence[Fingering | None],
    material: Material,
    *,
    plain: Sequence[bool],
) -> Candidates:
    """Candidates from voicings with their prices.

    Args:
        voicings: cheapest first.
        fingerings: one a voicing; on keys none, or None for each.
        material: the chord's.
        plain: which of them are plain shells.
    """
    pitches = np.full((len(voicings), MOST_VOICES), ABSENT, dtype=np.int64)
    for row, (voicing, _) in enumerate(voicings):
        pitches[row, : len(voicing.pitches)] = voicing.pitches
    held_ones = [fingering for fingering in fingerings if fingering]
    on_neck = len(held_ones) == len(voicings)
    return Candidates(
        voicings=tuple(voicing for voicing, _ in voicings),
        pitches=pitches,
        tops=pitches.max(axis=1, initial=0),
        voices=(pitches >= 0).sum(axis=1),
        price=np.array([price for _, price in voicings], dtype=np.float64),
        plain=np.array(plain, dtype=np.bool_),
        tensions=_tension_counts(pitches, material),
        codes=np.array(
            [_code(voicing, material) for voicing, _ in voicings],
            dtype=np.int64,
        ),
        stops=stops_of(held_ones) if on_neck else np.zeros((len(voicings), THUMB, 3), dtype=np.int8),
        positions=positions_of(held_ones) if on_neck else np.zeros(len(voicings), dtype=np.int64),
    )


def packed(rows: Sequence[Table], fill: float) -> Table:
    """Arrays of different length as one, the shorter ones filled up.

    Args:
        rows: (n, ...) each; the same shape and type but for n.
        fill: what fills them up.
    """
    lengths = {len(row) for row in rows}
    most = max(lengths)
    if len(lengths) == 1:  # most chords have as many candidates as are kept
        return cast("Table", np.concatenate(rows).reshape(len(rows), *rows[0].shape))
    table = np.full((len(rows), most, *rows[0].shape[1:]), fill, dtype=rows[0].dtype)
    for number, row in enumerate(rows):
        table[number, : len(row)] = row
    return cast("Table", table)


def _tension_counts(pitches: Notes, material: Material) -> Notes:
    """Different tensions in each row."""
    counts: Notes = np.zeros(len(pitches), dtype=np.int64)
    for tone in material.tensions:
        counts += ((pitches % 12 == tone) & (pitches >= 0)).any(axis=1)
    return counts


def _code(voicing: Voicing, material: Material) -> int:
    return _FAMILY_NUMBER[voicing.family] * 12 + (voicing.bottom - material.root) % 12
