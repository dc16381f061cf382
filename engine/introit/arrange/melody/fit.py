"""Fitting a saying of a motif to its chords: contour first, then as little bending as can be."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from introit.arrange.melody.palette import Palette, Status
from introit.arrange.melody.register import Register

_REACH = 5
"""Semitones that a note may be bent to fit."""

# Prices of a fitted saying; a semitone of bending costs one. Judgement, no source.
_WRONG_WAY = 40.0
"""A move in another direction than the one written: the contour is what a motif is known by."""
_STRAY = 2.5
"""A chromatic note that was not written with an accidental: it is bent to the scale first."""
_WALL = 400.0
"""What does not rest on the chord where it must, and what does not resolve."""


class Note(NamedTuple):
    """A note to be fitted.

    Attributes:
        palette: of its chord.
        held: whether it is long, stressed, or the last before a rest.
        altered: whether it is written with an accidental, and meant.
    """

    palette: Palette
    held: bool
    altered: bool = False


class Saying(NamedTuple):
    """A motif once, over its chords.

    Attributes:
        notes: in order.
        contour: between them, -1 down, 0 the same, 1 up, None either way.
    """

    notes: tuple[Note, ...]
    contour: tuple[int | None, ...]


def fitted(saying: Saying, nominal: Sequence[int], register: Register) -> list[int]:
    """The pitches nearest to those wanted, of those that keep the contour and stand well on their chords.

    Strong and long notes are chord tones or tensions on offer, or prepared by the note before and resolved by
    step; the others may pass, and resolve by step.
    """
    if misfit(saying, nominal, nominal, register) == 0:
        return list(nominal)
    ways: dict[int, tuple[float, tuple[int, ...]]] = {}
    for index, wanted in enumerate(nominal):
        ways = {
            pitch: min(
                (cost + _move(saying, index, way, pitch), (*way, pitch)) for cost, way in ways.values()
            )
            if index
            else (0.0, (pitch,))
            for pitch in _candidates(wanted, register)
        }
        ways = {
            pitch: (cost + abs(pitch - wanted) + _unrest(saying, index, way), way)
            for pitch, (cost, way) in ways.items()
        }
    return list(min(ways.values())[1])


def changed(
    saying: Saying, pitches: Sequence[int], *, inner: bool, number: int, register: Register
) -> list[int]:
    """The saying with one note changed, its contour kept; as it was where none can be.

    Args:
        saying: the motif over its chords.
        pitches: as it would be said unchanged.
        inner: whether an inner note is to change, where one can.
        number: of the return, from 1: by turns the change goes further and less far than the motif did.
        register: that it keeps to.
    """
    last = len(pitches) - 1
    inside = sorted(range(1, last), key=lambda index: (abs(2 * index - last), -index))
    for index in [*inside, last, 0] if inner else [last, *inside, 0]:
        best = _another(saying, list(pitches), index, number=number, register=register)
        if best is not None:
            return best
    return list(pitches)


def shifted(pitches: Sequence[int], register: Register) -> list[int] | None:
    """Pitches an octave up, or else down; None where neither lies in the register."""
    for octave in (12, -12):
        moved = [pitch + octave for pitch in pitches]
        if min(moved) >= register.lowest and max(moved) <= register.highest:
            return moved
    return None


def _another(
    saying: Saying, pitches: list[int], index: int, *, number: int, register: Register
) -> list[int] | None:
    """The saying with another note at an index, the nearest that suits; None where none does."""
    old = pitches[index]
    base = misfit(saying, pitches, pitches, register)
    further = (saying.contour[index - 1] if index else 1) or 1
    liked = further if number % 2 else -further
    choices = sorted(
        (pitch for pitch in range(old - _REACH - 2, old + _REACH + 3) if pitch != old),
        key=lambda pitch: (abs(pitch - old) + 2.5 * ((pitch - old) * liked < 0), pitch),
    )
    for pitch in choices:
        tried = [*pitches[:index], pitch, *pitches[index + 1 :]]
        stable = saying.notes[index].palette.status[pitch % 12] == Status.STABLE
        if stable and misfit(saying, tried, tried, register) <= base:
            return tried
    return None


def _candidates(wanted: int, register: Register) -> range:
    low, high = max(wanted - _REACH, register.lowest), min(wanted + _REACH, register.highest)
    if low <= high:
        return range(low, high + 1)
    return range(register.lowest, register.highest + 1)


def misfit(saying: Saying, pitches: Sequence[int], nominal: Sequence[int], register: Register) -> float:
    """What is wrong with a saying: 0 where it is as wanted, else semitones of bending and prices above."""
    cost = float(sum(abs(pitch - wanted) for pitch, wanted in zip(pitches, nominal, strict=True)))
    for index, pitch in enumerate(pitches):
        if index:
            cost += _move(saying, index, pitches[:index], pitch)
        cost += _WALL * (not register.lowest <= pitch <= register.highest)
        cost += _unrest(saying, index, pitches[: index + 1])
    return cost


def _move(saying: Saying, index: int, way: Sequence[int], pitch: int) -> float:
    """What the move into a note costs: against the contour, and out of a note that must resolve."""
    move = pitch - way[-1]
    cost = _WRONG_WAY * (saying.contour[index - 1] not in {None, (move > 0) - (move < 0)})
    reach = _resolves_within(saying, index - 1, way)
    return cost + _WALL * (reach is not None and not 0 < abs(move) <= reach)


def _resolves_within(saying: Saying, index: int, way: Sequence[int]) -> int | None:
    """Semitones within which the last note of a way must resolve; None where it rests on its chord."""
    note, pitch = saying.notes[index], way[-1]
    if _rests(note, pitch):
        return None
    return 2 if pitch % 12 in note.palette.scale else 1


def _unrest(saying: Saying, index: int, way: Sequence[int]) -> float:
    """What it costs that the last note of a way does not rest on its chord where it must."""
    note, pitch = saying.notes[index], way[-1]
    if _rests(note, pitch):
        return 0.0
    prepared = index > 0 and way[-2] == pitch and _rests(saying.notes[index - 1], pitch)
    last = index == len(saying.notes) - 1
    harsh = note.palette.status[pitch % 12] == Status.HARSH
    chromatic = note.palette.status[pitch % 12] == Status.CHROMATIC
    bad = harsh or last or (note.held and not prepared)
    return _WALL * bad + _STRAY * (chromatic and not note.altered)


def _rests(note: Note, pitch: int) -> bool:
    """Whether a note stands on its chord: a chord tone, or a tension on offer."""
    return note.palette.status[pitch % 12] == Status.STABLE or pitch % 12 in note.palette.members
