"""The candidates for one chord where it stands: what its wish allows, what a hand can hold, cheapest first.

Nothing that a wish asks is refused while something smaller will do. What is given up, in this order, is a
matter of price: the preferred family, a colour of the chord's name, a guide tone, voices, the tone on top, at
last a minor ninth under the melody, which a bass note in the grip cannot always avoid. Floor, ceiling and the
hand are never given up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from introit.arrange.tones import MINOR_NINTHS
from introit.arrange.voicing.bass_room import over_a_bass
from introit.arrange.voicing.bells import bell_candidates
from introit.arrange.voicing.board import Board, held
from introit.arrange.voicing.candidates import Candidates, gathered
from introit.arrange.voicing.cost import Prices
from introit.arrange.voicing.forms import Form, Layout
from introit.arrange.voicing.material import Material
from introit.arrange.voicing.placing import ABSENT, Notes, Placed, placed
from introit.arrange.voicing.reach import out_of_reach
from introit.arrange.voicing.voicing import Voicing
from introit.arrange.voicing.wish import Wish
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard, Place
from introit.theory.grip import SILENT, Grip
from introit.theory.holding import hand_on

MOST_CANDIDATES = 32
"""Kept per chord: enough for smooth paths, few enough for a fast search."""
ALIKE = 3
"""Kept with the same top voice and as many voices, before any other is looked at twice."""
MOST_OF_A_SIZE = 20
"""Kept with as many voices, before any with fewer or more is left out: a full chord can be thinned."""
TWO, MOST_OF_TWO = 2, 8
"""Kept with two voices, which are the plain shells over a bass."""
EACH_TOP, FAR_TOP = 3, 16.0
"""Grips that are tried for each top voice, that a line may have its step, and how much dearer than the
cheapest they may be."""
MOST_TRIED = 110
"""Grips that the hand is asked about, once there is any that it holds."""
HAND = 1.0
"""What one unit of the hand's own cost is worth."""
OTHER_FAMILY, OTHER_TOP, UNDER_MELODY = 3.0, 40.0, 60.0
"""Given up first, late, and last."""
PLAIN_SHELL = 9.0
"""Worth of the first plain shell of an intro: a colour of a chord's name may be left out for it."""
LOW_TOP = 4.0
"""Each semitone that the top voice of a peak lies too low."""
NOT_WHOLE = 40.0
"""Each guide tone that is missing in a grip that is to be whole."""
OUT_OF_REACH = 3.0
"""A melody note over a grip from which the hand would have to go: a guitar alone plays both."""
MELODY_DOUBLED = 1.0
"""A melody note in the comp at the unison."""


def candidates_for(material: Material, wish: Wish, board: Board) -> Candidates:
    """The candidates for a chord, at most 40; none only where floor and ceiling leave no room at all.

    Args:
        material: the chord's.
        wish: where it stands.
        board: what it is played on.
    """
    asked = (
        wish if not wish.rest_before and wish.tense is None else wish._replace(rest_before=False, tense=None)
    )
    return _candidates(_as_wished(material, wish), asked, board)


@lru_cache(maxsize=8192)
def _candidates(material: Material, wish: Wish, board: Board) -> Candidates:
    if wish.kind == "bell":
        bells = _bells(material, wish, board)
        if bells.voicings:
            return bells
    layout = Layout(board.neck.strings if board.neck else 0, wish.bass_in_grip, wish.most_voices)
    rows = placed(material, board.neck, layout)
    allowed = np.flatnonzero(_allowed(rows, material, wish))
    price = rows.price[allowed] + _wish_price(rows, material, wish)[allowed]
    if board.neck and wish.bass_in_grip:
        price += OUT_OF_REACH * out_of_reach(rows, wish.over, board.neck)[allowed]
    plain = np.array([form.plain for form in rows.forms], dtype=np.bool_)
    order = np.argsort(price - PLAIN_SHELL * plain[rows.form[allowed]], kind="stable")
    return _chosen(rows, allowed[order], price[order], board).candidates(material)


def _as_wished(material: Material, wish: Wish) -> Material:
    """The material with the wish's own tones in it and others out of it."""
    if not (wish.without or wish.with_ or wish.top):
        return material
    guides = tuple(tone for tone in material.guides if tone not in wish.without)
    guides += tuple(tone for tone in sorted(wish.with_) if tone not in guides)
    asked = sorted(wish.top.difference(guides)) if len(wish.top) == 1 else []
    out = {*wish.without, *guides, *asked}
    return material._replace(
        guides=guides,
        colours=(*asked, *(tone for tone in material.colours if tone not in out)),
        fillers=tuple(filler for filler in material.fillers if filler[0] not in out),
        telling=None if material.telling in wish.without else material.telling,
    )


def _allowed(rows: Placed, material: Material, wish: Wish) -> npt.NDArray[np.bool_]:
    """What must hold: floor, ceiling, number of voices, and room for the bass note under them."""
    allowed: npt.NDArray[np.bool_] = rows.pitches[:, 0] >= wish.floor
    allowed &= rows.pitches.max(axis=1, initial=0) <= wish.ceiling
    allowed &= (rows.pitches >= 0).sum(axis=1) <= wish.most_voices
    if wish.bass_in_grip or not allowed.any():
        return allowed
    over = allowed & over_a_bass(rows.pitches, material.bass)
    return over if over.any() else allowed


def _wish_price(rows: Placed, material: Material, wish: Wish) -> Prices:
    """What is asked but may be given up: the tone on top, the preferred families, no melody note doubled."""
    top = rows.pitches.max(axis=1, initial=0)
    price: Prices = np.zeros(len(top))
    if wish.top:
        price += OTHER_TOP * (~np.isin(top % 12, list(wish.top)) | (top < wish.lowest_top))
    elif wish.lowest_top:
        price += LOW_TOP * np.maximum(0, wish.lowest_top - top)
    if wish.families:
        other = np.array([form.family not in wish.families for form in rows.forms], dtype=np.bool_)
        price += OTHER_FAMILY * other[rows.form]
    if wish.whole:
        classes = np.where(rows.pitches >= 0, rows.pitches % 12, -1)
        for tone in material.guides:
            price += NOT_WHOLE * ~(classes == tone).any(axis=1)
    if wish.over:
        price += MELODY_DOUBLED * np.isin(rows.pitches, list(wish.over)).any(axis=1)
        price += UNDER_MELODY * np.isin(rows.pitches, _forbidden(material, wish)).any(axis=1)
    return price


def _forbidden(material: Material, wish: Wish) -> list[int]:
    """Pitches that lie a minor ninth, or its octaves, under a melody note, and may not."""
    lows = (high - apart for high in wish.over for apart in MINOR_NINTHS if apart > 1)
    return [low for low in lows if not material.may_rub(low)]


def _chosen(rows: Placed, order: Notes, price: Prices, board: Board) -> _Choice:
    """The first so many that can be played; one for each top voice, many alike only at last."""
    tops = rows.pitches[order].max(axis=1, initial=0).tolist()
    kinds = [
        (top, len(rows.forms[form].stack)) for top, form in zip(tops, rows.form[order].tolist(), strict=True)
    ]
    first = _Choice(rows, order, price, board)
    taken = _one_of_each(first, tops)
    alike = Counter(kinds[place] for place in taken)
    sizes = Counter(kinds[place][1] for place in taken)
    late: list[int] = []
    for place, kind in enumerate(kinds):
        if first.is_done:
            break
        if place in taken:
            continue
        most = MOST_OF_A_SIZE if kind[1] > TWO else MOST_OF_TWO
        if alike[kind] >= ALIKE or sizes[kind[1]] >= most:
            late.append(place)
        elif first.look_at(place):
            alike[kind] += 1
            sizes[kind[1]] += 1
    for place in late:
        if first.is_done:
            break
        first.look_at(place)
    return first


def _one_of_each(first: _Choice, tops: Sequence[int]) -> set[int]:
    """Takes one grip for each top voice; says where in the order they are."""
    tried: Counter[int] = Counter()
    taken: set[int] = set()
    dearest = min(first.price, default=0.0) + FAR_TOP
    for place, top in enumerate(tops):
        if tried[top] < EACH_TOP and first.price[place] <= dearest:
            tried[top] += 1
            if first.look_at(place):
                tried[top] = EACH_TOP
                taken.add(place)
    return taken


class _Choice:
    """Candidates in the making: what has been taken so far, and how often the hand was asked."""

    __slots__ = ("board", "order", "price", "rows", "taken", "tried")

    def __init__(self, rows: Placed, order: Notes, price: Prices, board: Board) -> None:
        self.rows = rows
        self.order = order.tolist()
        self.price = price.tolist()
        self.board = board
        self.tried = 0
        self.taken: list[tuple[float, int, Fingering | None]] = []

    @property
    def is_done(self) -> bool:
        """True when there are enough, or the hand has been asked often enough to leave it at these."""
        return len(self.taken) >= MOST_CANDIDATES or (bool(self.taken) and self.tried >= MOST_TRIED)

    def look_at(self, place: int) -> bool:
        """Takes the row at a place of the order if it can be played; says whether it can."""
        row, price = self.order[place], self.price[place]
        fingering = None
        self.tried += 1
        if self.board.neck is not None:
            fingering = held(_frets(self.rows, row, self.board.neck), self.board)
            if fingering is None:
                return False
            price += HAND * fingering.cost
        self.taken.append((price, row, fingering))
        return True

    def candidates(self, material: Material) -> Candidates:
        """What has been taken, cheapest first."""
        rows = self.rows
        self.taken.sort(key=lambda item: item[:2])
        chosen = [row for _, row, _ in self.taken]
        forms = [rows.forms[form] for form in rows.form[chosen].tolist()] if chosen else []
        voicings = [
            (_voicing(rows, row, form, fingering), price)
            for (price, row, fingering), form in zip(self.taken, forms, strict=True)
        ]
        fingerings = [fingering for _, _, fingering in self.taken]
        return gathered(voicings, fingerings, material, plain=[form.plain for form in forms])


def _frets(rows: Placed, row: int, neck: Fretboard) -> tuple[int, ...]:
    """A row as frets from the lowest string."""
    frets = [SILENT] * neck.strings
    for string, fret in zip(rows.strings[row].tolist(), rows.frets[row].tolist(), strict=True):
        if fret != ABSENT:
            frets[neck.strings - string] = fret
    return tuple(frets)


def _voicing(rows: Placed, row: int, form: Form, fingering: Fingering | None) -> Voicing:
    count = len(form.stack)
    pitches = tuple(rows.pitches[row, :count].tolist())
    if fingering is None:
        return Voicing(pitches, form.family)
    strings, frets = rows.strings[row, :count].tolist(), rows.frets[row, :count].tolist()
    on_neck = len(fingering.fingers)
    return Voicing(
        pitches,
        form.family,
        places=tuple(Place(string, fret) for string, fret in zip(strings, frets, strict=True)),
        fingers=tuple(fingering.fingers[on_neck - string] for string in strings),
    )


def _bells(material: Material, wish: Wish, board: Board) -> Candidates:
    """Grips whose neighbours ring in pairs; plucked one or two at a time, so they need only be held."""
    found = bell_candidates(material, wish, board.neck)
    if not wish.bass_in_grip:
        found = [one for one in found if _leaves_room(one[0], material)]
    found = found[:MOST_CANDIDATES]
    fingerings = [_of_bell(voicing, board.neck) for voicing, _ in found if board.neck]
    bells = gathered(found, fingerings, material, plain=[False] * len(found))
    together = [_rung_together(voicing, material) for voicing, _ in found]
    return replace(bells, tensions=np.array(together, dtype=np.int64))


def _leaves_room(voicing: Voicing, material: Material) -> bool:
    """Whether some octave of the bass note is clear under a voicing."""
    return bool(over_a_bass(np.array([voicing.pitches], dtype=np.int64), material.bass)[0])


def _rung_together(voicing: Voicing, material: Material) -> int:
    """Tensions that are struck at once: of two neighbours."""
    tense = [pitch % 12 in material.tensions for pitch in voicing.pitches]
    return max(low + high for low, high in pairwise(tense))


def _of_bell(voicing: Voicing, neck: Fretboard) -> Fingering:
    grip = Grip.from_places(voicing.places, strings=neck.strings)
    fingering = hand_on(neck).hold(grip)
    if isinstance(fingering, Fingering):
        return fingering
    raise ValueError(f"bell grip {grip}: {fingering.reason}")
