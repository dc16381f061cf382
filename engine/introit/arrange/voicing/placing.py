"""Forms in a key: at their pitches and, on a guitar, on strings and frets. Whole tables, no hand yet."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
import numpy.typing as npt

from introit.arrange.voicing.bass_room import mud_over
from introit.arrange.voicing.cost import HIGHEST, LOWEST, Prices
from introit.arrange.voicing.forms import Form, Layout, forms_of
from introit.arrange.voicing.material import Material
from introit.theory.fretboard import Fretboard
from introit.theory.hand import INDEX, LITTLE, REACH_MM
from introit.theory.limits import LOW_INTERVAL_LIMITS

MOST_VOICES = 6
CENTRE = 61.0
"""Where the middle of a voicing over a bass lies by preference: just over middle C."""
FAR_FROM_CENTRE = 0.16
ROOM_FOR_BASS, CLOSE_TO_BASS = 53, 0.2
"""Under F3 each semitone costs: the bass has to lie a fifth below. Judgement, no source."""
TOP_CENTRE, FAR_FROM_TOP = 65.0, 0.1
HIGH_BASS, BASS_TOO_HIGH = 48, 0.12
"""For a guitar alone: its top voice about F4, each semitone of its bass over C3 costs."""
OPEN_STRING = 1.2
"""An open string cannot be damped by the hand that holds the grip."""
EASY_FRETS, OFF_EASY_FRETS = (3, 10), 0.35
"""Where chords lie best ([SH1]: frets 3 to 10); each fret outside costs."""

ABSENT = -1

Notes = npt.NDArray[np.int64]
Kept = npt.NDArray[np.int16]
"""As `Notes`; a thousand chords' are kept, and in a quarter of the room."""
Octaves = np.arange(0, HIGHEST, 12)


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Every placement of a chord's forms, cheapest first.

    Attributes:
        forms: the forms; `form` says which one a row is.
        form: (n,) index into `forms`.
        pitches: (n, v) MIDI notes, rising; -1 where a form has fewer voices.
        strings: (n, v) the string of each, numbered from the highest; 0 on keys.
        frets: (n, v) its fret; 0 on keys.
        price: (n,) of the form and of where it lies; without the hand's own.
    """

    forms: tuple[Form, ...]
    form: Kept
    pitches: Kept
    strings: Kept
    frets: Kept
    price: Prices


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """The forms as arrays, one row a form and string set; `least` is the lowest note that is not muddy."""

    form: Notes
    stacks: Notes
    span: Notes
    present: npt.NDArray[np.bool_]
    strings: Notes
    least: Notes
    price: Prices


@lru_cache(maxsize=1024)
def placed(material: Material, neck: Fretboard | None, layout: Layout) -> Placed:
    """Places every form of a chord.

    Args:
        material: the chord's, in its key.
        neck: the guitar's; None on keys.
        layout: as for `forms.forms_of`.
    """
    forms = forms_of(material.relative, layout)
    rows = _rows(material.relative, layout)
    low = (rows.stacks[:, 0] + material.root)[:, None] + Octaves
    high = low + rows.span[:, None]
    row, octave = np.nonzero((low >= np.maximum(rows.least, LOWEST)[:, None]) & (high <= HIGHEST))
    low, high = low[row, octave], high[row, octave]
    pitches = np.where(rows.present[row], rows.stacks[row] + (low - rows.stacks[row, 0])[:, None], ABSENT)
    price = rows.price[row] + _register_price(low, high, bass_in_grip=layout.bass_in_grip)
    if not layout.bass_in_grip:
        price += mud_over(material.bass)[pitches].max(axis=1)
    strings, frets = rows.strings[row], np.zeros_like(pitches)
    if neck is not None:
        frets = _frets(pitches, strings, neck)
        reached = _within_reach(frets, pitches, neck)
        row, pitches, strings, frets = row[reached], pitches[reached], strings[reached], frets[reached]
        price = price[reached] + _neck_price(frets, pitches)
    order = np.argsort(price, kind="stable")

    def kept(rows: Notes) -> Kept:
        return rows[order].astype(np.int16)

    return Placed(forms, kept(rows.form[row]), kept(pitches), kept(strings), kept(frets), price[order])


@lru_cache(maxsize=2048)
def _rows(relative: Material, layout: Layout) -> _Rows:
    forms = forms_of(relative, layout)
    spread = [(number, strings) for number, form in enumerate(forms) for strings in form.strings]
    most = max([len(form.stack) for form in forms], default=1)
    padding = (0,) * most
    stacks = np.array([(form.stack + padding)[:most] for form in forms], dtype=np.int64).reshape(-1, most)
    voices = np.array([len(form.stack) for form in forms], dtype=np.int64)
    number = np.array([number for number, _ in spread], dtype=np.int64)
    strings = np.array([(each + padding)[:most] for _, each in spread], dtype=np.int64)
    return _Rows(
        form=number,
        stacks=stacks[number],
        span=np.array([form.stack[-1] - form.stack[0] for form in forms], dtype=np.int64)[number],
        present=(np.arange(most) < voices[:, None])[number],
        strings=strings.reshape(-1, most),
        least=np.array([_least(form.stack) for form in forms], dtype=np.int64)[number],
        price=np.array([form.price for form in forms], dtype=np.float64)[number],
    )


def _least(stack: tuple[int, ...]) -> int:
    """Lowest MIDI note that the lowest voice may have, by the low-interval limits ([LI-A], [LI-B])."""
    base, limit = stack[0], LOWEST
    for low, high in combinations(stack, 2):
        limit = max(limit, LOW_INTERVAL_LIMITS.get(high - low, 0) - low + base)
    return limit


def _register_price(low: Notes, high: Notes, *, bass_in_grip: bool) -> Prices:
    if bass_in_grip:
        price: Prices = FAR_FROM_TOP * np.abs(high - TOP_CENTRE)
        return price + BASS_TOO_HIGH * np.maximum(low - HIGH_BASS, 0)
    price = FAR_FROM_CENTRE * np.abs((low + high) / 2 - CENTRE)
    return price + CLOSE_TO_BASS * np.maximum(ROOM_FOR_BASS - low, 0)


def _frets(pitches: Notes, strings: Notes, neck: Fretboard) -> Notes:
    """Fret of each note on its string; -1 where there is no note, below that where there is no such fret."""
    opens = np.array([0, *neck.open_pitches[::-1]], dtype=np.int64)
    frets = pitches - opens[strings]
    frets = np.where((frets < 0) | (frets > neck.frets), ABSENT - 1, frets)
    placed_frets: Notes = np.where(pitches < 0, ABSENT, frets)
    return placed_frets


def _within_reach(frets: Notes, pitches: Notes, neck: Fretboard) -> npt.NDArray[np.bool_]:
    """Whether every note is on the neck, and the stopped ones no farther apart than any hand reaches."""
    mm = np.asarray(neck.fret_mm)
    stopped = frets > 0
    highest = np.where(stopped, frets, 0).max(axis=1, initial=0)
    lowest = np.where(stopped, frets, neck.frets).min(axis=1, initial=neck.frets)
    near = mm[highest] - mm[np.minimum(lowest, highest)] <= REACH_MM[INDEX, LITTLE]
    reached: npt.NDArray[np.bool_] = (frets != ABSENT - 1).all(axis=1) & near
    return reached


def _neck_price(frets: Notes, pitches: Notes) -> Prices:
    low, high = EASY_FRETS
    highest = frets.max(axis=1, initial=0)
    price: Prices = OPEN_STRING * ((frets == 0) & (pitches >= 0)).sum(axis=1)
    price += OFF_EASY_FRETS * (np.maximum(highest - high, 0) + (np.maximum(low - highest, 0)))
    return price
