"""Everything that one guitar plays, put on its neck so that one pair of hands can play it.

From onset to onset the hand holds what still rings and what begins. A note that has no place yet gets the one
that suits the hand; where not all can be held, what rings is let go first (inner voices before the melody and
the bass), then inner voices of the new grip are left out, the bass last of all. The best way is kept among a
few, so that no place is chosen that leads into a leap.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import combinations, groupby, product
from typing import NamedTuple

from introit.arrange.score import BASS, COMP, MELODY, ScoreNote, Touch
from introit.arrange.shifting import FREE_SHIFT, REST, SHORTEST
from introit.theory.fingering import Fingering, fingering_of
from introit.theory.fretboard import Fretboard, Place
from introit.theory.grip import Grip
from introit.theory.hand import INDEX, LITTLE
from introit.theory.holding import hand_on
from introit.theory.plucking import Plucking, why_not_plucked

KEPT_WAYS, KEPT_WAYS_OF_THIN = 4, 16
"""Ways kept from onset to onset, first and where only a thinner setting can be played: a judgement between
time and foresight."""
# What each thing costs. Judgement, no source.
_LET_GO = {COMP: 0.6, MELODY: 1.5, BASS: 2.0}
_LEFT_OUT, _AGAIN_LEFT_OUT = {COMP: 10.0, BASS: 110.0}, {COMP: 4.0, BASS: 12.0}
"""A chord's first notes are dear; what strikes it again may be spared."""
_SHIFT, _WILD_SHIFT = 0.12, 120.0
_STRAIN = 0.5
_LOW_STRING = 0.15
"""A melody note costs this much for each string down from the first."""
_BREATH = 1.5
"""What rings is let go early, so that the hand can jump in the rest."""
_THUMB_STRINGS = 3
"""A bass note may move to another of the lowest three strings."""
_FIRST_OUT = (COMP, MELODY, BASS)


class _Sounding(NamedTuple):
    """A note on the neck; `note` is its index, `end` a tick."""

    note: int
    part: int
    end: int
    place: Place
    finger: int


class _Way(NamedTuple):
    """One way to have played everything so far: its price, and where it leaves the hand.

    Attributes:
        price: what it costs.
        position: of the hand; 0 before anything is stopped.
        free_from: tick from which the hand rests.
        jumped: bar of the last jump; -1 for none.
        ringing: what still sounds.
        done: what has ended, and the way before it; None at the beginning.
    """

    price: float
    position: int
    free_from: int
    jumped: int
    ringing: tuple[_Sounding, ...]
    done: tuple[object, tuple[_Sounding, ...]] | None


class _Step(NamedTuple):
    """What begins at one onset: indices of notes and, for each, the places where it may be put."""

    onset: int
    notes: tuple[int, ...]
    choices: tuple[tuple[Place, ...], ...]
    rolled: bool


def _never(_ringing: ScoreNote, _fresh: ScoreNote) -> bool:
    return False


def fitted(
    notes: Iterable[ScoreNote],
    neck: Fretboard,
    *,
    plucking: Plucking,
    bar_ticks: int,
    rubs: Callable[[ScoreNote, ScoreNote], bool] = _never,
) -> list[ScoreNote]:
    """The notes as one guitar plays them: each with string, fret and finger, the union held by one hand.

    Args:
        notes: melody, comp and bass; places that are given are kept.
        neck: where they are put.
        plucking: how the strings are sounded.
        bar_ticks: ticks in a bar.
        rubs: whether a note (the first) may not go on ringing under or over one that begins.
    """
    ordered = sorted(_on_neck(notes, neck), key=lambda note: (note.onset, note.pitch, -note.part))
    fitter = _Fitter(ordered, neck, plucking, bar_ticks, rubs)
    steps = list(_steps(ordered, neck))
    way = _best_way(fitter, steps, kept=KEPT_WAYS, thin=False)
    if way.price >= _WILD_SHIFT:
        way = min(way, _best_way(fitter, steps, kept=KEPT_WAYS_OF_THIN, thin=True), key=_price)
    return sorted(_played(way, ordered))


def _best_way(fitter: _Fitter, steps: Sequence[_Step], *, kept: int, thin: bool) -> _Way:
    """The cheapest way through all steps, the best for each position of the hand kept from step to step.

    Args:
        fitter: goes on from step to step.
        steps: in order.
        kept: how many ways are kept.
        thin: whether notes may be left out for a later one's sake.
    """
    ways = [_Way(0.0, 0, -REST, -1, (), None)]
    for step in steps:
        best: dict[tuple[int, int], _Way] = {}
        for before in ways:
            for way in fitter.go_on(before, step, thin=thin):
                known = best.get((way.position, way.jumped))
                if known is None or way.price < known.price:
                    best[way.position, way.jumped] = way
        ways = sorted(best.values(), key=_price)[:kept]
    return ways[0]


def _price(way: _Way) -> float:
    return way.price


def _on_neck(notes: Iterable[ScoreNote], neck: Fretboard) -> Iterator[ScoreNote]:
    """The notes, a bass player's low ones raised to where the neck begins."""
    lowest = neck.open_pitches[0]
    for note in notes:
        octaves = max(0, -(-(lowest - note.pitch) // 12))
        yield note._replace(pitch=note.pitch + 12 * octaves) if octaves else note


def _steps(ordered: Sequence[ScoreNote], neck: Fretboard) -> Iterator[_Step]:
    for onset, group in groupby(range(len(ordered)), key=lambda index: ordered[index].onset):
        notes: dict[int, int] = {}
        for index in group:  # of two parts on one pitch the last stays: melody before bass before comp
            notes[ordered[index].pitch] = index
        indices = tuple(notes.values())
        choices = tuple(_choices(ordered[index], neck) for index in indices)
        yield _Step(onset, indices, choices, any(ordered[i].touch is Touch.ROLLED for i in indices))


def _choices(note: ScoreNote, neck: Fretboard) -> tuple[Place, ...]:
    if note.string is None or note.fret is None:
        return neck.places(note.pitch)
    own = Place(note.string, note.fret)
    if note.part != BASS:
        return (own,)
    low = neck.strings - _THUMB_STRINGS
    return (own, *(place for place in neck.places(note.pitch) if place.string > low and place != own))


class _Fitter:
    """Goes on from one way to the next onset's ways."""

    def __init__(
        self,
        notes: Sequence[ScoreNote],
        neck: Fretboard,
        plucking: Plucking,
        bar_ticks: int,
        rubs: Callable[[ScoreNote, ScoreNote], bool],
    ) -> None:
        self._notes = notes
        self._neck = neck
        self._plucking = plucking
        self._bar_ticks = bar_ticks
        self._rubs = rubs
        self._spared = _prices_of_leaving_out(notes)

    def go_on(self, way: _Way, step: _Step, *, thin: bool) -> list[_Way]:
        """All ways to play a step after a way, with no more notes left out than need be."""
        found: list[_Way] = []
        for left_out in _leaving_out([self._notes[index].part for index in step.notes]):
            kept = [at for at in range(len(step.notes)) if at not in left_out]
            price = way.price + sum(self._spared[step.notes[at]] for at in left_out)
            choices = product(*(step.choices[at] for at in kept))
            notes = [step.notes[at] for at in kept]
            ways = [
                made
                for places in choices
                if self._can_sound(places, rolled=step.rolled)
                for made in self._struck(way._replace(price=price), step, notes, places)
            ]
            found += ways
            if not thin and any(made.price - way.price < _WILD_SHIFT for made in ways):
                break
        return found or [way._replace(price=way.price + _WILD_SHIFT)]

    def _can_sound(self, places: tuple[Place, ...], *, rolled: bool) -> bool:
        """Whether the hand holds the places, on a string each, and the other hand sounds them."""
        damps = self._plucking is Plucking.PICK and not rolled
        held = _hold(self._neck, places, damps)
        return held is not None and (rolled or len(places) < 2 or not why_not_plucked(held, self._plucking))

    def _struck(
        self, way: _Way, step: _Step, notes: Sequence[int], places: tuple[Place, ...]
    ) -> Iterator[_Way]:
        """The ways on: what rings is held on as far as the hand can, and let go before a jump."""
        going_on = [
            one
            for one in way.ringing
            if one.end > step.onset
            and not any(self._rubs(self._notes[one.note], self._notes[note]) for note in notes)
        ]
        held, kept = self._held_with(places, going_on)
        if kept and _shift(way, held) > FREE_SHIFT:
            held, kept = self._held_with(places, [])
        for fingered in (held,) if kept else _fingered(held):
            yield self._gone_on(way, step, fingered, list(zip(notes, places, strict=True)), kept)

    def _gone_on(
        self,
        way: _Way,
        step: _Step,
        held: Fingering,
        placed: Sequence[tuple[int, Place]],
        kept: Sequence[_Sounding],
    ) -> _Way:
        let_go = [one for one in way.ringing if one.end > step.onset and one not in kept]
        price = way.price + _STRAIN * held.cost + sum(_LET_GO[one.part] for one in let_go)
        price += sum(
            _LOW_STRING * (place.string - 1) for note, place in placed if self._notes[note].part == MELODY
        )
        shift = _shift(way, held)
        jumps, bar, until = shift > FREE_SHIFT, step.onset // self._bar_ticks, step.onset
        price += _SHIFT * shift + _WILD_SHIFT * (jumps and bar == way.jumped)
        if jumps and step.onset - way.free_from < REST:
            late = self._just_begun(way, step.onset - REST)
            price += _WILD_SHIFT if late else _BREATH
            until -= 0 if late else REST
        gone = tuple(one._replace(end=min(one.end, until)) for one in way.ringing if one not in kept)
        ringing = (*kept, *(self._sounding(note, place, held) for note, place in placed))
        return _Way(
            price,
            held.position or way.position,
            max((one.end for one in ringing if one.place.fret), default=way.free_from),
            bar if jumps else way.jumped,
            ringing,
            (way.done, gone),
        )

    def _sounding(self, note: int, place: Place, held: Fingering) -> _Sounding:
        finger = held.fingers[self._neck.strings - place.string]
        return _Sounding(note, self._notes[note].part, self._notes[note].end, place, finger)

    def _held_with(
        self, places: tuple[Place, ...], ringing: Sequence[_Sounding]
    ) -> tuple[Fingering, list[_Sounding]]:
        """How the new places are held, and what goes on ringing: inner voices are let go first."""
        strings = {place.string for place in places}
        kept = [one for one in ringing if one.place.string not in strings]
        for part in (None, *_FIRST_OUT):
            kept = [one for one in kept if one.part != part]
            held = _hold(self._neck, (*places, *(one.place for one in kept)), False)
            if held is not None and _keeps_fingers(held, kept, self._neck.strings):
                return held, kept
        alone = _hold(self._neck, places, False)
        if alone is None:
            raise ValueError(f"{places} cannot be held")
        return alone, []

    def _just_begun(self, way: _Way, tick: int) -> bool:
        """Whether something that rings has begun so late that it cannot be let go at a tick."""
        return any(self._notes[one.note].onset + SHORTEST > tick for one in way.ringing)


def _shift(way: _Way, held: Fingering) -> int:
    """Frets that the hand moves; 0 to and from open strings."""
    return abs(held.position - way.position) if held.position and way.position else 0


@lru_cache(maxsize=16384)
def _fingered(held: Fingering) -> tuple[Fingering, ...]:
    """The ways to finger it: a single stopped note may be any finger's, which keeps the hand where it is."""
    if len(held.stops) != 1 or held.stops[0].lowest != held.stops[0].highest:
        return (held,)
    stop = held.stops[0]
    return tuple(
        fingering_of(held.grip, (stop._replace(finger=finger),), held.cost)
        for finger in range(INDEX, LITTLE + 1)
        if stop.fret >= finger
    )


def _prices_of_leaving_out(notes: Sequence[ScoreNote]) -> list[float]:
    """For each note; the melody, which never is, has none of its own."""
    first: dict[tuple[int, int], int] = {}
    prices = []
    for note in notes:
        begins = first.setdefault((note.part, note.harmony_tick), note.onset) == note.onset
        prices.append((_LEFT_OUT if begins else _AGAIN_LEFT_OUT).get(note.part, 0.0))
    return prices


def _leaving_out(parts: Sequence[int]) -> Iterator[frozenset[int]]:
    """Which notes of a group are left out: none, one inner voice, two, all of them, then the bass too."""
    inner = [at for at, part in enumerate(parts) if part == COMP]
    for count in range(len(inner) + 1):
        yield from map(frozenset, combinations(inner, count))
    bass = [at for at, part in enumerate(parts) if part == BASS]
    if bass:
        yield frozenset((*inner, *bass))


def _keeps_fingers(held: Fingering, kept: Sequence[_Sounding], strings: int) -> bool:
    """Whether no finger leaves a note that goes on ringing."""
    return all(held.fingers[strings - one.place.string] == one.finger for one in kept)


@lru_cache(maxsize=65536)
def _hold(neck: Fretboard, places: tuple[Place, ...], damps: bool) -> Fingering | None:
    """How places are held; None where no hand can, or two lie on one string."""
    if len({place.string for place in places}) < len(places):
        return None
    held = hand_on(neck, damps=damps).hold(Grip.from_places(places, strings=neck.strings))
    return held if isinstance(held, Fingering) else None


def _played(way: _Way, notes: Sequence[ScoreNote]) -> Iterator[ScoreNote]:
    """The notes of a way with their places and the ends that they got."""
    link: tuple[object, tuple[_Sounding, ...]] | None = (way.done, way.ringing)
    while link is not None:
        earlier, soundings = link
        for one in soundings:
            note = notes[one.note]
            yield note._replace(
                length=one.end - note.onset,
                string=one.place.string,
                fret=one.place.fret,
                finger=one.finger,
            )
        link = earlier  # type: ignore[assignment]
