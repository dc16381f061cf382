"""The search for the least costly way to put fingers on a grip's notes; see `holding` for the rules."""

from __future__ import annotations

from typing import NamedTuple

from introit.theory.fingering import Stop
from introit.theory.fretboard import Fretboard
from introit.theory.grip import SILENT, Grip
from introit.theory.hand import (
    ARCHED_STRINGS,
    BRIDGED_STRINGS,
    FLAT_STRINGS,
    INDEX,
    LITTLE,
    REACH_MM,
    THUMB,
    THUMB_REACH_MM,
    Hand,
)

Note = tuple[int, int]
"""Fret and row of a stopped note; row 0 is the lowest string."""


class _Run(NamedTuple):
    """Notes at one fret, neighbours in the order of strings, that one finger could stop.

    Attributes:
        notes: how many.
        lowest: row of the lowest string.
        highest: row of the highest.
        costs: for the fingers 1 to 4, what putting it down here costs; None where it cannot.
    """

    notes: int
    lowest: int
    highest: int
    costs: tuple[float | None, ...]


def _runs(notes: list[Note], frets: tuple[int, ...], hand: Hand) -> list[list[_Run]]:
    """For each stopped note, the runs that start at it."""
    return [_runs_from(at, notes, frets=frets, hand=hand) for at in range(len(notes))]


def _runs_from(at: int, notes: list[Note], *, frets: tuple[int, ...], hand: Hand) -> list[_Run]:
    fret, lowest = notes[at]
    found = [_Run(1, lowest, lowest, hand.cost.weak)]
    for count, (other_fret, row) in enumerate(notes[at + 1 :], start=2):
        if other_fret != fret or any(SILENT < between < fret for between in frets[lowest + 1 : row]):
            break
        found.append(_Run(count, lowest, row, _flat_costs(frets, lowest, row, hand=hand)))
    return found


def _flat_costs(frets: tuple[int, ...], lowest: int, highest: int, *, hand: Hand) -> tuple[float | None, ...]:
    """What each finger pays to lie flat over the rows given."""
    fret, spanned = frets[lowest], highest - lowest + 1
    between = frets[lowest + 1 : highest]
    arched = any(SILENT < above < fret for above in frets[highest + 1 :])
    bridged = any(other != fret for other in between)
    index_alone = SILENT in between or (bridged and spanned > BRIDGED_STRINGS)
    nobody = (arched and spanned > ARCHED_STRINGS) or (hand.damps and SILENT in between)
    return tuple(
        None
        if nobody or spanned > FLAT_STRINGS[finger] or (index_alone and finger != INDEX)
        else hand.cost.weak[finger - 1] + hand.flat(finger, spanned, arched=arched, bridged=bridged)
        for finger in range(INDEX, LITTLE + 1)
    )


Strains = dict[tuple[int, int], list[list[float | None]]]
"""Two fingers -> fret of the lower -> fret of the upper -> what it costs; None when out of reach."""


def strain_table(neck: Fretboard, hand: Hand) -> Strains:
    """What each two fingers cost on each two frets of a neck."""
    mm = neck.fret_mm
    return {
        (lower, upper): [[hand.strain(lower, upper, max(0.0, far - near)) for far in mm] for near in mm]
        for lower, upper in REACH_MM
    }


class FingerSearch:
    """Depth first over the stopped notes by fret and string, cut where it costs more than the best so far.

    Attributes:
        best, best_cost: the fingers at work and what they cost; None before any way is found.
        placed: rows, and the finger that stays on each; empty where all are free.
    """

    __slots__ = ("best", "best_cost", "first_frets", "frets", "hand", "notes", "placed", "runs", "strains")

    def __init__(
        self, frets: tuple[int, ...], hand: Hand, *, strains: Strains, placed: dict[int, int]
    ) -> None:
        self.frets = frets
        self.hand = hand
        self.strains = strains
        self.placed = placed
        self.best: tuple[Stop, ...] | None = None
        self.best_cost = float("inf")
        self.first_frets: range | None = None
        self.notes: list[Note] = []
        self.runs: list[list[_Run]] = []

    def without_thumb(self, notes: list[Note]) -> None:
        """Gives every note to the fingers."""
        self._start(notes)
        self._extend(0, (), 0.0)

    def with_thumb(self, notes: list[Note], neck: Fretboard) -> None:
        """Leaves the lowest string to the thumb, which keeps near the index's fret."""
        fret, before = self.frets[0], self.best
        self._start([note for note in notes if note[1] != 0])
        reach = THUMB_REACH_MM * self.hand.size
        near = [at for at, mm in enumerate(neck.fret_mm) if at and abs(mm - neck.fret_mm[fret]) <= reach]
        self.first_frets = range(near[0], near[-1] + 1)
        self._extend(0, (), self.hand.cost.thumb)
        if self.best is not None and self.best is not before:
            self.best = (*self.best, Stop(THUMB, fret, 0, 0))

    def _start(self, notes: list[Note]) -> None:
        self.notes = notes
        self.runs = _runs(notes, self.frets, self.hand)

    def _extend(self, at: int, stops: tuple[Stop, ...], cost: float) -> None:
        """Gives the note at an index, with the run after it that one finger takes, to each finger left."""
        if cost >= self.best_cost:
            return
        if at == len(self.notes):
            self.best, self.best_cost = stops, cost
            return
        if len(stops) == self.hand.fingers:
            return
        fret = self.notes[at][0]
        for finger in range(stops[-1].finger + 1 if stops else INDEX, LITTLE + 1):
            spread = self._spread(stops, finger, fret)
            if spread is None:
                continue
            for run in self.runs[at]:
                putting_down = run.costs[finger - 1]
                if putting_down is not None and self._is_free(at, run, finger):
                    stop = Stop(finger, fret, run.lowest, run.highest)
                    added = spread + putting_down + self._across(stops, run)
                    self._extend(at + run.notes, (*stops, stop), cost + added)

    def _is_free(self, at: int, run: _Run, finger: int) -> bool:
        """Whether no note of a run is stopped by another finger already."""
        if not self.placed:
            return True
        return all(self.placed.get(row, finger) == finger for _, row in self.notes[at : at + run.notes])

    def _spread(self, stops: tuple[Stop, ...], finger: int, fret: int) -> float | None:
        """What the distances to the fingers already placed cost; None when one is out of reach."""
        if not stops:
            outside = self.first_frets is not None and max(1, fret - finger + 1) not in self.first_frets
            return None if outside else 0.0
        last = stops[-1]
        total = self.hand.cost.off_fret * abs(finger - last.finger - (fret - last.fret))
        for other in stops:
            strain = self.strains[other.finger, finger][other.fret][fret]
            if strain is None:
                return None
            total += strain
        return total

    def _across(self, stops: tuple[Stop, ...], run: _Run) -> float:
        """What the strings between the last finger and this one cost."""
        if not stops:
            return 0.0
        jumped = max(run.lowest - stops[-1].highest, stops[-1].lowest - run.highest) - 1
        return self.hand.cost.across * (jumped - 2) if jumped > 2 else 0.0


def stopped(grip: Grip) -> list[Note]:
    """The stopped notes of a grip, by fret and string."""
    return sorted((fret, row) for row, fret in enumerate(grip.frets) if fret > 0)


def fewest_fingers(notes: list[Note], frets: tuple[int, ...], hand: Hand) -> int:
    """Fingers needed if any reached anywhere; only the first may be the index."""
    runs, at, count = _runs(notes, frets, hand), 0, 0
    while at < len(notes):
        finger = slice(0, 1) if count == 0 else slice(1, LITTLE)
        at += max(run.notes for run in runs[at] if any(cost is not None for cost in run.costs[finger]))
        count += 1
    return count
