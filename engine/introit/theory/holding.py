"""Can a hand hold a grip? The least costly fingering, or why there is none.

The rules of a fretting hand:

- fingers follow the frets: a higher finger never stops a lower fret; within one fret the lower finger takes
  the lower string (so do people in 2060 of 2065 such pairs in the open data set that the tests read);
- one finger stops several strings only by lying flat. The index may lie across strings that others stop
  higher up, or that are not played; the other fingers lie over neighbouring strings, of which another may
  stop the middle one of three higher up. No flat finger covers a string that must sound lower, be it open;
- open strings cost nothing and need no finger;
- where silent strings must be damped, a fingertip lies beside each and no finger flat over it.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from introit.theory.fingering import Fingering, Stop, Unplayable, fingering_of
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
from introit.theory.plucking import undamped_string

NUMBER_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven")
REMEMBERED = 100_000
"""Grips whose answer is kept; a whole library's search asks for fewer (about 1 kB each)."""
BODY_FRET = 12
"""Above this fret, counted from the nut, the body is in the way (no source)."""

_Note = tuple[int, int]
"""Fret and row of a stopped note; row 0 is the lowest string."""


class FrettingHand:
    """A hand on a neck. Keeps what it has worked out: make one and ask it often."""

    def __init__(self, fretboard: Fretboard | None = None, hand: Hand | None = None) -> None:
        self.fretboard = fretboard or Fretboard()
        self.hand = hand or Hand()
        self._known: dict[tuple[int, ...], Fingering | Unplayable] = {}
        self._strains = _strain_table(self.fretboard, self.hand)

    def hold(self, grip: Grip) -> Fingering | Unplayable:
        """The least costly fingering of a grip, or why it cannot be held.

        Raises:
            ValueError: if the grip has more or fewer strings than the neck.
        """
        known = self._known.get(grip.frets)
        if known is None:
            known = self._work_out(grip)
            if len(self._known) >= REMEMBERED:
                self._known.clear()
            self._known[grip.frets] = known
        return known

    def _work_out(self, grip: Grip) -> Fingering | Unplayable:
        neck = self.fretboard
        if len(grip.frets) != neck.strings:
            raise ValueError(f"{grip} is a grip for {len(grip.frets)} strings, the neck has {neck.strings}")
        if max(grip.frets) > neck.frets:
            return Unplayable(grip, f"fret {max(grip.frets)} is wanted, the last fret is {neck.frets}")
        if self.hand.damps and (string := undamped_string(grip)):
            return Unplayable(grip, f"nothing damps string {string}: no string beside it is stopped")
        notes = sorted((fret, row) for row, fret in enumerate(grip.frets) if fret > 0)
        search = _Search(grip.frets, self.hand, strains=self._strains)
        search.without_thumb(notes)
        if self.hand.thumb and grip.frets[0] > 0:
            search.with_thumb(notes, neck)
        if search.best is None:
            return Unplayable(grip, _why_not(notes, search, self))
        high = max(0, max(grip.frets) + neck.capo - BODY_FRET) if notes else 0
        return fingering_of(grip, search.best, search.best_cost + self.hand.cost.high_fret * high)


@lru_cache(maxsize=16)
def hand_on(fretboard: Fretboard, *, damps: bool = False) -> FrettingHand:
    """The hand on a neck, one for everybody who asks, for it keeps what it has worked out.

    Args:
        fretboard: the neck.
        damps: whether it damps the silent strings inside a grip, as a pick needs.
    """
    return FrettingHand(fretboard, Hand(damps=damps))


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


def _runs(notes: list[_Note], frets: tuple[int, ...], hand: Hand) -> list[list[_Run]]:
    """For each stopped note, the runs that start at it."""
    return [_runs_from(at, notes, frets=frets, hand=hand) for at in range(len(notes))]


def _runs_from(at: int, notes: list[_Note], *, frets: tuple[int, ...], hand: Hand) -> list[_Run]:
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


_Strains = dict[tuple[int, int], list[list[float | None]]]
"""Two fingers -> fret of the lower -> fret of the upper -> what it costs; None when out of reach."""


def _strain_table(neck: Fretboard, hand: Hand) -> _Strains:
    mm = neck.fret_mm
    return {
        (lower, upper): [[hand.strain(lower, upper, max(0.0, far - near)) for far in mm] for near in mm]
        for lower, upper in REACH_MM
    }


class _Search:
    """Depth first over the stopped notes by fret and string, cut where it costs more than the best so far."""

    __slots__ = ("best", "best_cost", "first_frets", "frets", "hand", "notes", "runs", "strains")

    def __init__(self, frets: tuple[int, ...], hand: Hand, *, strains: _Strains) -> None:
        self.frets = frets
        self.hand = hand
        self.strains = strains
        self.best: tuple[Stop, ...] | None = None
        self.best_cost = float("inf")
        self.first_frets: range | None = None
        self.notes: list[_Note] = []
        self.runs: list[list[_Run]] = []

    def without_thumb(self, notes: list[_Note]) -> None:
        self._start(notes)
        self._extend(0, (), 0.0)

    def with_thumb(self, notes: list[_Note], neck: Fretboard) -> None:
        """Leaves the lowest string to the thumb, which keeps near the index's fret."""
        fret, before = self.frets[0], self.best
        self._start([note for note in notes if note[1] != 0])
        reach = THUMB_REACH_MM * self.hand.size
        near = [at for at, mm in enumerate(neck.fret_mm) if at and abs(mm - neck.fret_mm[fret]) <= reach]
        self.first_frets = range(near[0], near[-1] + 1)
        self._extend(0, (), self.hand.cost.thumb)
        if self.best is not None and self.best is not before:
            self.best = (*self.best, Stop(THUMB, fret, 0, 0))

    def _start(self, notes: list[_Note]) -> None:
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
                if putting_down is not None:
                    stop = Stop(finger, fret, run.lowest, run.highest)
                    added = spread + putting_down + self._across(stops, run)
                    self._extend(at + run.notes, (*stops, stop), cost + added)

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


def _why_not(notes: list[_Note], search: _Search, asked: FrettingHand) -> str:
    """The first thing that stands in the way: too few fingers, the whole hand's reach, two fingers' reach."""
    hand, mm = asked.hand, asked.fretboard.fret_mm
    needed = _fewest_fingers(notes, search.frets, hand)
    if needed > hand.fingers:
        return f"{NUMBER_WORDS[needed]} fingers needed, {NUMBER_WORDS[hand.fingers]} may be used"
    low, high = notes[0][0], notes[-1][0]
    span = mm[high] - mm[low]
    if span > hand.span_mm:
        return f"span {span:.0f} mm, fret {low} to {high}; a hand reaches {hand.span_mm:.0f} mm"
    return (
        f"fret {low} to {high}, {span:.0f} mm: the fingers between do not reach their frets, "
        "or would have to lie flat over strings that they cannot cover"
    )


def _fewest_fingers(notes: list[_Note], frets: tuple[int, ...], hand: Hand) -> int:
    """Fingers needed if any reached anywhere; only the first may be the index."""
    runs, at, count = _runs(notes, frets, hand), 0, 0
    while at < len(notes):
        finger = slice(0, 1) if count == 0 else slice(1, LITTLE)
        at += max(run.notes for run in runs[at] if any(cost is not None for cost in run.costs[finger]))
        count += 1
    return count
