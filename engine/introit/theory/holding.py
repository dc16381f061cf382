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

from collections.abc import Iterable
from functools import lru_cache

from introit.theory.finger_search import FingerSearch, Note, fewest_fingers, stopped, strain_table
from introit.theory.fingering import Fingering, Unplayable, fingering_of
from introit.theory.fretboard import Fretboard, Place
from introit.theory.grip import Grip
from introit.theory.hand import THUMB, Hand
from introit.theory.plucking import undamped_string

NUMBER_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven")
REMEMBERED = 100_000
"""Grips whose answer is kept; a whole library's search asks for fewer (about 1 kB each)."""
BODY_FRET = 12
"""Above this fret, counted from the nut, the body is in the way (no source)."""

Placed = tuple[tuple[int, int], ...]
"""Rows, and for each the finger that already stops it."""


class FrettingHand:
    """A hand on a neck. Keeps what it has worked out: make one and ask it often."""

    def __init__(self, fretboard: Fretboard | None = None, hand: Hand | None = None) -> None:
        self.fretboard = fretboard or Fretboard()
        self.hand = hand or Hand()
        self._known: dict[tuple[int, ...], Fingering | Unplayable] = {}
        self._held_on: dict[tuple[tuple[int, ...], Placed], Fingering | None] = {}
        self._strains = strain_table(self.fretboard, self.hand)

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

    def hold_on(self, grip: Grip, placed: Placed) -> Fingering | None:
        """The least costly fingering of a grip that leaves fingers where they are; None where there is none.

        Args:
            grip: which can be held in some way.
            placed: for each string that goes on being stopped, its row and the finger that stops it.
        """
        key = grip.frets, placed
        if key not in self._held_on:
            if len(self._held_on) >= REMEMBERED:
                self._held_on.clear()
            found = self._searched(grip, dict(placed))
            self._held_on[key] = None if found.best is None else self._fingering(grip, found)
        return self._held_on[key]

    def _work_out(self, grip: Grip) -> Fingering | Unplayable:
        neck = self.fretboard
        if len(grip.frets) != neck.strings:
            raise ValueError(f"{grip} is a grip for {len(grip.frets)} strings, the neck has {neck.strings}")
        if max(grip.frets) > neck.frets:
            return Unplayable(grip, f"fret {max(grip.frets)} is wanted, the last fret is {neck.frets}")
        if self.hand.damps and (string := undamped_string(grip)):
            return Unplayable(grip, f"nothing damps string {string}: no string beside it is stopped")
        search = self._searched(grip, {})
        if search.best is None:
            return Unplayable(grip, _why_not(stopped(grip), search, self))
        return self._fingering(grip, search)

    def _searched(self, grip: Grip, placed: dict[int, int]) -> FingerSearch:
        notes = stopped(grip)
        search = FingerSearch(grip.frets, self.hand, strains=self._strains, placed=placed)
        search.without_thumb(notes)
        if self.hand.thumb and grip.frets[0] > 0 and placed.get(0, THUMB) == THUMB:
            search.with_thumb(notes, self.fretboard)
        return search

    def _fingering(self, grip: Grip, search: FingerSearch) -> Fingering:
        high = max(0, max(grip.frets) + self.fretboard.capo - BODY_FRET)
        cost = search.best_cost + self.hand.cost.high_fret * high * bool(search.best)
        return fingering_of(grip, search.best or (), cost)


@lru_cache(maxsize=16)
def hand_on(fretboard: Fretboard, *, damps: bool = False) -> FrettingHand:
    """The hand on a neck, one for everybody who asks, for it keeps what it has worked out.

    Args:
        fretboard: the neck.
        damps: whether it damps the silent strings inside a grip, as a pick needs.
    """
    return FrettingHand(fretboard, Hand(damps=damps))


def placed_on(places: Iterable[Place], fingers: Iterable[int], strings: int) -> Placed:
    """The fingers that stop places, by row; open strings have none.

    Args:
        places: on a neck of so many strings.
        fingers: for each of them, the finger.
        strings: how many.
    """
    pairs = zip(places, fingers, strict=True)
    return tuple(sorted((strings - place.string, finger) for place, finger in pairs if place.fret))


def _why_not(notes: list[Note], search: FingerSearch, asked: FrettingHand) -> str:
    """The first thing that stands in the way: too few fingers, the whole hand's reach, two fingers' reach."""
    hand, mm = asked.hand, asked.fretboard.fret_mm
    needed = fewest_fingers(notes, search.frets, hand)
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
