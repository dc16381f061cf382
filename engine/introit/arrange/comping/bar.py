"""What can be comped in one bar: each figure of the vocabulary, fitted to the chords and to the melody."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from introit.arrange.comping.figure import AIR, EIGHTH, SHORT, Cell, Figure, Vocabulary, held_slots

STATED = 6 * EIGHTH
"""How long a hit sounds that is added so that a chord is heard, at most: three beats, in ticks."""
NEVER = 99
"""A slot that no bar has."""
_MOST_CHOICES = 2

# Prices of a bar. Judgement, no source.
_ON_MELODY, _UNDER_MELODY, _PUSH_UNDER_MELODY = 2.0, 0.8, 1.5
_NEXT_EIGHTH = 0.35
_CUT_SHORT = 1.5
"""For a chord that is left for the next one an eighth after it was struck."""
_CROWDED = 1.0
"""For each hit beyond three."""
_ADDED = 0.35
_AWAY_FROM_CHANGE = 0.12
"""An eighth between a chord's change and the hit that states it."""


class Shape(NamedTuple):
    """A bar as the comp finds it; slots are eighths from its start, masks have a bit for each of them.

    Attributes:
        slots: eighths in the bar.
        chords: slots at which a chord begins.
        needed: those of them that the comp must state.
        change_after: whether a chord that may be pushed begins with the next bar.
        change_before: whether the bar before may have pushed the chord that begins with this one.
        sounding, onsets: where melody sounds, and where it begins.
        closed: slots in which nothing may be struck.
        setup: slots of which the bar's last hit takes one; empty where it is free.
        may_push: whether chords are pushed at all.
        one_pair_of_hands: whether who comps plays the melody too, and may have to leave the grip for it.
    """

    slots: int
    chords: tuple[int, ...]
    needed: tuple[int, ...]
    change_after: bool
    change_before: bool
    sounding: int
    onsets: int
    closed: int
    setup: tuple[int, ...]
    may_push: bool
    one_pair_of_hands: bool = False


class Option(NamedTuple):
    """One way to comp a bar.

    Attributes:
        cells: by slot; a `push` sounds the chord that begins an eighth (or, as written, a beat) later.
        kind, turn: of the figure it was made from.
        price: of its place in the melody and among the chords; its place in the phrase comes on top.
        mask: its slots.
        gaps, clashes: hits in gaps of the melody, and on its onsets.
        holds: hits with room enough to be held, in this bar.
        waits: slot of the next bar before which nothing may be struck if the push into it is to be held.
        entry: slot of the first hit; `NEVER` where there is none.
        pushes: hits that push.
        leads: whether it pushes the chord of the next bar.
        leans: whether the chord that begins with the bar is stated only if the bar before pushed it.
        tail, after: slots of a figure that goes on in the next bar, and of one begun in the bar before.
    """

    cells: tuple[Cell, ...]
    kind: int
    turn: int
    price: float
    mask: int
    gaps: int
    clashes: int
    holds: int
    waits: int
    entry: int
    pushes: int
    leads: bool
    leans: bool
    tail: int
    after: int


@lru_cache(maxsize=8192)
def options(shape: Shape, vocabulary: Vocabulary) -> tuple[Option, ...]:
    """All ways to comp a bar with a vocabulary, each stating the chords that must be stated."""
    found: dict[tuple[int, int, int, bool, int], Option] = {}
    for figure in vocabulary.figures:
        plain = _cleaned(figure.cells, shape, steady=vocabulary.steady)
        for cells, leans in _completed(plain, shape, steady=vocabulary.steady):
            for closed in _ended(cells, shape, steady=vocabulary.steady):
                option = _option(closed, figure, shape, leans=leans, added=len(closed) - len(plain))
                by = (option.mask, option.tail, option.after, leans, figure.turn)
                if by not in found or option.price < found[by].price:
                    found[by] = option
    return tuple(found.values())


def _cleaned(cells: tuple[Cell, ...], shape: Shape, *, steady: bool) -> tuple[Cell, ...]:
    """The cells that may be struck, each knowing whether it pushes.

    An eighth before a change the coming chord is sounded, or nothing: the old one would be cut at once. Only
    a steady pattern keeps such a hit where chords are not pushed, as in a ballad. There every chord rings,
    and one that is only struck again gives way to the melody.
    """
    kept = []
    for cell in cells:
        again = steady and not shape.may_push and cell.slot not in shape.chords
        if (shape.closed | (shape.sounding if again else 0)) >> cell.slot & 1:
            continue
        ahead = _next_change(cell.slot, shape) - cell.slot
        push = shape.may_push and ((cell.push and ahead <= 2) or (ahead == 1 and not steady))
        if push or ahead > 1 or steady:
            kept.append(cell._replace(push=push))
    return tuple(kept)


def _next_change(slot: int, shape: Shape) -> int:
    """Slot of the next chord; far away where none may be pushed."""
    within = [chord for chord in shape.chords if chord > slot]
    return within[0] if within else shape.slots if shape.change_after else NEVER


def _completed(
    cells: tuple[Cell, ...], shape: Shape, *, steady: bool
) -> Iterator[tuple[tuple[Cell, ...], bool]]:
    """The cells with hits added for chords that they pass over; True with them where the bar leans."""
    stated = {_stated_by(cell, shape) for cell in cells}
    missing = [chord for chord in shape.needed if chord not in stated]
    most = 1 if steady or len(missing) > 2 else _MOST_CHOICES
    taken = {cell.slot for cell in cells}
    choices: list[list[int | None]] = []
    for chord in missing:
        places = _places(chord, shape, taken=taken, steady=steady)
        slots: list[int | None] = [*places[:most], *(slot for slot in places[most:] if slot in shape.setup)]
        if chord == 0 and shape.change_before:
            slots.append(None)
        if slots:
            choices.append(slots)
    for chosen in product(*choices):
        added = {slot for slot in chosen if slot is not None}
        extra = [Cell(slot, STATED, push=slot + 1 in missing and slot not in missing) for slot in added]
        yield tuple(sorted([*cells, *extra])), None in chosen


def _stated_by(cell: Cell, shape: Shape) -> int:
    """Slot of the chord that a cell sounds: of the present one, or of the coming one for a push."""
    if cell.push:
        return _next_change(cell.slot, shape)
    return max((chord for chord in shape.chords if chord <= cell.slot), default=-1)


def _places(chord: int, shape: Shape, *, taken: set[int], steady: bool) -> list[int]:
    """Slots at which a chord may be stated, the best first."""
    end = min((later for later in shape.chords if later > chord), default=shape.slots)
    if steady:
        return [chord] if not shape.closed >> chord & 1 else []
    first = chord - 1 if shape.may_push and chord else chord
    # An eighth before the next change the chord would be cut as soon as it is heard.
    last = end - 1 if end - chord > 1 and (end < shape.slots or shape.change_after) else end
    free = [slot for slot in range(first, last) if slot not in taken and not shape.closed >> slot & 1]
    return sorted(free, key=lambda slot: _melody_price(slot, shape) + _AWAY_FROM_CHANGE * abs(slot - chord))


def _melody_price(slot: int, shape: Shape) -> float:
    if shape.onsets >> slot & 1:
        return _ON_MELODY
    return _UNDER_MELODY * (shape.sounding >> slot & 1)


def _ended(cells: tuple[Cell, ...], shape: Shape, *, steady: bool) -> Iterator[tuple[Cell, ...]]:
    """The cells as they are; with a push into the next bar; or with the hit that sets up the head."""
    last = shape.slots - 1
    may_lead = shape.change_after and not steady and not shape.closed >> last & 1
    if may_lead and (not cells or cells[-1].slot < last):
        yield (*cells, Cell(last, STATED, push=True))
    if not shape.setup or (cells and cells[-1].slot in shape.setup):
        yield cells
        return
    slots = [slot for slot in shape.setup if not shape.closed >> slot & 1]
    for slot in slots:
        yield (*cells, Cell(slot, SHORT))
    if not slots:
        yield cells


def _option(cells: tuple[Cell, ...], figure: Figure, shape: Shape, *, leans: bool, added: int) -> Option:
    slots = [cell.slot for cell in cells]
    mask = sum(1 << slot for slot in slots)
    pushed = [cell.slot for cell in cells if cell.push]
    leads = any(_next_change(slot, shape) == shape.slots for slot in pushed)
    clashes = (mask & shape.onsets).bit_count()
    under = (mask & shape.sounding & ~shape.onsets).bit_count()
    crowd = (mask & mask << 1).bit_count()
    price = _ON_MELODY * clashes + _UNDER_MELODY * under + _NEXT_EIGHTH * crowd
    price += _CROWDED * max(0, len(cells) - 3) + _ADDED * max(0, added) * (figure.kind != AIR)
    price += _PUSH_UNDER_MELODY * sum(shape.sounding >> slot & 1 for slot in pushed)
    price += _CUT_SHORT * sum(slot - 1 in slots and slot - 1 in shape.chords for slot in pushed)
    return Option(
        cells=cells,
        kind=figure.kind,
        turn=figure.turn,
        price=price,
        mask=mask,
        gaps=len(cells) - (mask & shape.sounding).bit_count(),
        clashes=clashes,
        holds=_holds(cells, shape),
        waits=held_slots(shape.slots) - (shape.slots - slots[-1]) if leads else NEVER + 1,
        entry=slots[0] if slots else NEVER,
        pushes=len(pushed),
        leads=leads,
        leans=leans,
        tail=sum(1 << cell.slot for cell in figure.tail),
        after=sum(1 << cell.slot for cell in figure.after),
    )


def _holds(cells: tuple[Cell, ...], shape: Shape) -> int:
    """Hits with room to be held before the next hit and the end of their chord, in this bar."""
    least = held_slots(shape.slots)
    count = 0
    for index, cell in enumerate(cells):
        following = cells[index + 1].slot if index + 1 < len(cells) else shape.slots
        ends = [chord for chord in (*shape.chords, NEVER) if chord > cell.slot]
        end = ends[min(1, len(ends) - 1)] if cell.push else ends[0]
        kept_clear = shape.closed | (shape.onsets if shape.one_pair_of_hands else 0)
        closed = [slot for slot in range(cell.slot + 1, shape.slots) if kept_clear >> slot & 1]
        sets_up = cell.slot in shape.setup and index == len(cells) - 1
        count += min(following, end, *closed) - cell.slot >= least and not sets_up
    return count
