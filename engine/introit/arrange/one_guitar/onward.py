"""From one way to the next onset's: what rings is held on as far as the hand can, and let go for a jump."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import NamedTuple, TypeAlias

from introit.arrange.one_guitar.grips import Grips, Hold, Option
from introit.arrange.one_guitar.way import BREATH, LET_GO, SHIFT, WILD_SHIFT, Sounding, Way
from introit.arrange.score import BASS, COMP, MELODY, ScoreNote
from introit.arrange.shifting import FREE_SHIFT, REST, SHORTEST
from introit.theory.fingering import Fingering

Rubs = Callable[[ScoreNote, ScoreNote], bool]

_FIRST_OUT = (COMP, MELODY, BASS)


class Setting(NamedTuple):
    """Some of the notes that begin together, or all of them.

    Attributes:
        notes: their indices.
        price: of those that are left out.
        rootless: 1 where a chord's bass note is left out, else 0.
        options: the ways to put them.
    """

    notes: tuple[int, ...]
    price: float
    rootless: int
    options: tuple[Option, ...]


Taking: TypeAlias = tuple[Setting, Option, Fingering, Sequence[Sounding]]
"""What is played, how it is put and held, and what goes on ringing."""
Offer: TypeAlias = "tuple[float, Onward, Taking | None]"
"""A way on as it is compared with others: its price, the way before it, and what is taken; None for nothing.

A plain tuple and no way yet, for of the many that are offered at an onset only a few are taken.
"""
Best = dict[tuple[int, int], Offer]
"""The best offer for each position of the hand and bar of its last jump."""


class Neighbours:
    """What the notes of one fitting are to each other; keeps what it has been asked."""

    def __init__(self, notes: Sequence[ScoreNote], grips: Grips, bar_ticks: int, rubs: Rubs) -> None:
        self.notes = notes
        self.parts = [note.part for note in notes]
        self.ends = [note.end for note in notes]
        self.grips = grips
        self.bar_ticks = bar_ticks
        self._rubs = rubs
        self._known: dict[tuple[int, int, int, int], bool] = {}
        self._clear: dict[tuple[int, int, tuple[int, ...], tuple[int, ...]], bool] = {}

    def rub(self, ringing: int, ringing_pitch: int, fresh: int, fresh_pitch: int) -> bool:
        """Whether a note may not ring on beside one that begins; each by its index and as it sounds."""
        key = ringing, ringing_pitch, fresh, fresh_pitch
        known = self._known.get(key)
        if known is None:
            one, other = self._sounding(ringing, ringing_pitch), self._sounding(fresh, fresh_pitch)
            under_the_bass = other.part == BASS and one.part == COMP and ringing_pitch < fresh_pitch
            known = self._known[key] = under_the_bass or self._rubs(one, other)
        return known

    def _sounding(self, index: int, pitch: int) -> ScoreNote:
        note = self.notes[index]
        return note if note.pitch == pitch else note._replace(pitch=pitch)

    def clear(self, one: Sounding, notes: tuple[int, ...], pitches: tuple[int, ...]) -> bool:
        """Whether a note may ring on beside all that begin, which are given as in a setting and an option."""
        key = one.note, one.pitch, notes, pitches
        known = self._clear.get(key)
        if known is None:
            fresh = zip(notes, pitches, strict=True)
            known = self._clear[key] = not any(self.rub(one.note, one.pitch, *another) for another in fresh)
        return known


class _Leap(NamedTuple):
    """What it asks of the hand to move farther at this onset than it may without a rest.

    Attributes:
        again: price of a second one in a bar.
        hurry: price of the rest that it needs before it, where there is none.
        wild: how many rules it breaks.
        until: tick at which the hand lets go for it.
    """

    again: float
    hurry: float
    wild: int
    until: int


class Onward:
    """All ways on from one way at one onset.

    Attributes:
        calm: whether a way without a leap has been found.
        found: whether any has.
    """

    def __init__(self, way: Way, onset: int, neighbours: Neighbours, best: Best) -> None:
        self.calm = self.found = False
        self._way = way
        self._onset = onset
        self._neighbours = neighbours
        self._best = best
        self._bar = onset // neighbours.bar_ticks
        self._still = [one for one in way.ringing if one.end > onset]
        self._to_let_go = way.price + sum([LET_GO[one.part] for one in self._still])

    def play(self, setting: Setting) -> None:
        """Offers the ways to play a setting."""
        going_on_of: dict[tuple[int, ...], list[Sounding]] = {}
        for option in setting.options:
            if self._still:
                going_on = going_on_of.get(option.pitches)
                if going_on is None:
                    going_on = going_on_of[option.pitches] = self._going_on(setting, option)
                if going_on and self._play_on(setting, option, going_on):
                    continue
            self._offer(setting, option, option.holds, ())

    def give_up(self) -> None:
        """Offers the way on that plays nothing."""
        key, price = (self._way.position, self._way.jumped), self._way.price + WILD_SHIFT
        known = self._best.get(key)
        if known is None or price < known[0]:
            self._best[key] = price, self, None

    def taken(self, offer: Offer) -> Way:
        """The way that an offer of this one stands for."""
        way, (price, _, taking) = self._way, offer
        if taking is None:
            return way._replace(price=price, wild=way.wild + 1)
        setting, option, held, kept = taking
        wild, until, jumped = way.wild + setting.rootless, self._onset, way.jumped
        if self._shift(held.position) > FREE_SHIFT:
            wild, until, jumped = wild + self._leap.wild, self._leap.until, self._bar
        ringing = (*kept, *self._begun(setting, option, held))
        gone = tuple(
            [
                _ended(one, until if one.spot.place.fret else self._onset)  # an open string holds no finger
                for one in way.ringing
                if one not in kept
            ]
        )
        free_from = max([one.end for one in ringing if one.spot.place.fret], default=way.free_from)
        position = held.position or way.position
        return Way(price, wild, position, free_from, jumped, ringing, (way.done, gone))

    def _going_on(self, setting: Setting, option: Option) -> list[Sounding]:
        clear = self._neighbours.clear
        return [one for one in self._still if clear(one, setting.notes, option.pitches)]

    def _play_on(self, setting: Setting, option: Option, going_on: Sequence[Sounding]) -> bool:
        """Offers an option with as much of what rings as the hand holds on; says whether that is anything."""
        hold, kept = self._held_with(option, going_on)
        if hold is None or self._shift(hold[0]) > FREE_SHIFT:
            return False
        self._offer(setting, option, (hold,), kept)
        return True

    def _held_with(
        self, option: Option, ringing: Sequence[Sounding]
    ) -> tuple[Hold | None, Sequence[Sounding]]:
        """How the new places are held, and what goes on ringing: inner voices are let go first."""
        kept = [one for one in ringing if not one.spot.string & option.strings]
        for part in _FIRST_OUT:
            if not kept:
                break
            code, fingers = option.code, 0
            for one in kept:
                code += one.spot.code
                fingers += one.spot.held
            hold = self._neighbours.grips.held_on(code, fingers)
            if hold is not None:
                return hold, kept
            kept = [one for one in kept if one.part != part]
        return None, ()

    def _shift(self, position: int) -> int:
        """Frets that the hand moves; 0 to and from open strings."""
        before = self._way.position
        return abs(position - before) if before and position else 0

    def _offer(
        self, setting: Setting, option: Option, holds: Sequence[Hold], kept: Sequence[Sounding]
    ) -> None:
        """Offers an option, held in each of some ways. The search spends its time here: nothing is called."""
        best, before, bar, jumped = self._best, self._way.position, self._bar, self._way.jumped
        base = self._to_let_go - sum([LET_GO[one.part] for one in kept]) if kept else self._to_let_go
        price_of_notes = setting.price + option.price
        calm = False
        for position, strain, held in holds:
            shift = abs(position - before) if before and position else 0
            price = price_of_notes + strain + SHIFT * shift
            if shift > FREE_SHIFT:
                leap = self._leap
                price = base + (price + leap.again) + leap.hurry
                key = position, bar
                calm = calm or not leap.wild
            else:
                price = base + price
                key = position or before, jumped
                calm = True
            known = best.get(key)
            if known is None or price < known[0]:
                best[key] = price, self, (setting, option, held, kept)
        self.found = True
        self.calm |= calm and not setting.rootless

    @cached_property
    def _leap(self) -> _Leap:
        way = self._way
        twice = self._bar == way.jumped
        again = WILD_SHIFT * twice
        if self._onset - way.free_from >= REST:
            return _Leap(again, 0.0, int(twice), self._onset)
        notes = self._neighbours.notes
        begun = [notes[one.note].onset for one in way.ringing if one.spot.place.fret]
        if max(begun, default=self._onset - 2 * REST) + SHORTEST > self._onset - REST:  # too late to let go
            return _Leap(again, WILD_SHIFT, twice + 1, self._onset)
        return _Leap(again, BREATH, int(twice), self._onset - REST)

    def _begun(self, setting: Setting, option: Option, held: Fingering) -> list[Sounding]:
        parts, ends, grips = self._neighbours.parts, self._neighbours.ends, self._neighbours.grips
        fingers, lowest = held.fingers, grips.neck.strings
        return [
            Sounding(note, parts[note], pitch, ends[note], grips.spot(place, fingers[lowest - place.string]))
            for note, pitch, place in zip(setting.notes, option.pitches, option.places, strict=True)
        ]


def _ended(one: Sounding, tick: int) -> Sounding:
    return one._replace(end=tick) if one.end > tick else one
