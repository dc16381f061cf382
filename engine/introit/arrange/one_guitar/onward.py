"""From one way to the next onset's: what rings is held on as far as the hand can, and let go for a jump."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from introit.arrange.one_guitar.grips import Grips, Option, code_of
from introit.arrange.one_guitar.way import BREATH, LET_GO, SHIFT, STRAIN, WILD_SHIFT, Sounding, Way
from introit.arrange.score import BASS, COMP, MELODY, ScoreNote
from introit.arrange.shifting import FREE_SHIFT, REST, SHORTEST
from introit.theory.fingering import Fingering

Rubs = Callable[[ScoreNote, ScoreNote], bool]
Best = dict[tuple[int, int], Way]
"""The best way for each position of the hand and bar of its last jump."""

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


class Neighbours:
    """What the notes of one fitting are to each other; keeps what it has been asked."""

    def __init__(self, notes: Sequence[ScoreNote], grips: Grips, bar_ticks: int, rubs: Rubs) -> None:
        self.notes = notes
        self.grips = grips
        self.bar_ticks = bar_ticks
        self._rubs = rubs
        self._known: dict[tuple[int, int, int, int], bool] = {}

    def rub(self, ringing: int, ringing_pitch: int, fresh: int, fresh_pitch: int) -> bool:
        """Whether a note may not ring on beside one that begins; each by its index and as it sounds."""
        key = ringing, ringing_pitch, fresh, fresh_pitch
        known = self._known.get(key)
        if known is None:
            one = self.notes[ringing]._replace(pitch=ringing_pitch)
            other = self.notes[fresh]._replace(pitch=fresh_pitch)
            under_the_bass = other.part == BASS and one.part == COMP and ringing_pitch < fresh_pitch
            known = self._known[key] = under_the_bass or self._rubs(one, other)
        return known


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
        self._still = [one for one in way.ringing if one.end > onset]
        self._to_let_go = way.price + sum(LET_GO[one.part] for one in self._still)
        self._bar = onset // neighbours.bar_ticks
        self._hurried = onset - way.free_from < REST
        begun = [neighbours.notes[one.note].onset for one in way.ringing if one.place.fret]
        self._late = max(begun, default=onset - 2 * REST) + SHORTEST > onset - REST

    def play(self, setting: Setting) -> None:
        """Adds the ways to play a setting."""
        kept_of: dict[tuple[int, ...], list[Sounding]] = {}
        for option in setting.options:
            going_on = kept_of.get(option.pitches)
            if going_on is None:
                going_on = kept_of[option.pitches] = self._going_on(setting, option)
            held, kept = self._held_with(option, going_on)
            if kept and self._shift(held) > FREE_SHIFT:
                held, kept = option.fingerings[0], []
            for fingered in (held,) if kept else option.fingerings:
                self._add(setting, option, fingered, kept)

    def give_up(self) -> None:
        """Adds the way on that plays nothing."""
        way = self._way
        self._offer(way._replace(price=way.price + WILD_SHIFT, wild=way.wild + 1))

    def _going_on(self, setting: Setting, option: Option) -> list[Sounding]:
        fresh = list(zip(setting.notes, option.pitches, strict=True))
        rub = self._neighbours.rub
        return [
            one for one in self._still if not any(rub(one.note, one.pitch, *another) for another in fresh)
        ]

    def _held_with(self, option: Option, ringing: Sequence[Sounding]) -> tuple[Fingering, list[Sounding]]:
        """How the new places are held, and what goes on ringing: inner voices are let go first."""
        grips = self._neighbours.grips
        kept = [one for one in ringing if not one.string & option.strings]
        for part in _FIRST_OUT:
            if not kept:
                break
            code = option.code + sum([one.code for one in kept])
            held = grips.held(code)
            if held is not None and not _keeps_fingers(held, kept, grips.neck.strings):
                held = grips.held_on(code, [one.place for one in kept], [one.finger for one in kept])
            if held is not None:
                return held, kept
            kept = [one for one in kept if one.part != part]
        return option.fingerings[0], []

    def _shift(self, held: Fingering) -> int:
        """Frets that the hand moves; 0 to and from open strings."""
        before, after = self._way.position, held.position
        return abs(after - before) if before and after else 0

    def _add(self, setting: Setting, option: Option, held: Fingering, kept: list[Sounding]) -> None:
        way, shift = self._way, self._shift(held)
        jumps = shift > FREE_SHIFT
        wild = int(jumps and self._bar == way.jumped)
        price = self._to_let_go - sum([LET_GO[one.part] for one in kept])
        price += setting.price + option.price + STRAIN * held.cost + SHIFT * shift + WILD_SHIFT * wild
        until = self._onset
        if jumps and self._hurried:
            wild += self._late
            price += WILD_SHIFT if self._late else BREATH
            until -= 0 if self._late else REST
        self.found = True
        wild += setting.rootless
        self.calm |= not wild
        position, jumped = held.position or way.position, self._bar if jumps else way.jumped
        known = self._best.get((position, jumped))
        if known is None or price < known.price:
            ringing = (*kept, *self._begun(setting, option, held))
            gone = tuple(
                [
                    _ended(one, until if one.place.fret else self._onset)  # an open string holds no finger
                    for one in way.ringing
                    if one not in kept
                ]
            )
            free_from = max([one.end for one in ringing if one.place.fret], default=way.free_from)
            done = way.done, gone
            self._best[position, jumped] = Way(
                price, way.wild + wild, position, free_from, jumped, ringing, done
            )

    def _offer(self, way: Way) -> None:
        known = self._best.get((way.position, way.jumped))
        if known is None or way.price < known.price:
            self._best[way.position, way.jumped] = way

    def _begun(self, setting: Setting, option: Option, held: Fingering) -> list[Sounding]:
        notes, strings = self._neighbours.notes, self._neighbours.grips.neck.strings
        return [
            Sounding(
                note,
                notes[note].part,
                pitch,
                notes[note].end,
                place,
                held.fingers[strings - place.string],
                code_of(place),
                1 << place.string,
            )
            for note, pitch, place in zip(setting.notes, option.pitches, option.places, strict=True)
        ]


def _ended(one: Sounding, tick: int) -> Sounding:
    return one._replace(end=tick) if one.end > tick else one


def _keeps_fingers(held: Fingering, kept: Sequence[Sounding], strings: int) -> bool:
    """Whether no finger leaves a note that goes on ringing."""
    return all(held.fingers[strings - one.place.string] == one.finger for one in kept)
