"""Where notes that begin together can be put on the neck: held by one hand, sounded by the other.

Places are also written as one number, six bits a string, so that what is asked thousands of times is looked
up at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import product
from typing import NamedTuple, TypeAlias

from introit.arrange.one_guitar.way import STRAIN, Spot
from introit.arrange.score import BASS, COMP, MELODY
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard, Place
from introit.theory.grip import Grip
from introit.theory.hand import INDEX, LITTLE
from introit.theory.holding import REMEMBERED, hand_on
from introit.theory.plucking import Plucking, why_not_plucked

_BITS, _MASK = 6, 63
_FINGER_BITS, _FINGER_MASK = 3, 7
_THUMB_STRINGS = 3
"""A bass note may move to another of the lowest three strings."""
_OCTAVE = 12
# What it costs to put a note elsewhere. Judgement, no source.
_LOW_STRING = 0.15
"""A melody note costs this much for each string down from the first."""
_MOVED, _OTHER_OCTAVE = 0.4, 4.0
"""A note taken from the place that it was given, and a bass note that is put an octave higher or lower."""
_WIDEST = 6
"""Frets between stopped notes that no hand spans anywhere on a neck."""
_FINGERED_ANYHOW = 2
"""Stopped notes up to which other fingers than the easiest are thought of."""
_EACH_POSITION = 2
"""Ways kept for each position of the hand, where notes may go anywhere."""


class Voice(NamedTuple):
    """A note that is to be put somewhere; the place is where it was put before, None where nowhere yet."""

    part: int
    pitch: int
    place: Place | None


Hold: TypeAlias = tuple[int, float, Fingering]
"""A fingering behind the two things of it that the search compares: its position, and what it costs there."""


class Option(NamedTuple):
    """A way to put a group of notes.

    Attributes:
        places, pitches: one a note; a bass note may have moved by an octave.
        code: the places as one number.
        strings: a bit for each string that is used.
        holds: how the hand may hold them, the least costly first.
        price: what it costs to have them there, without the hand's own cost.
    """

    places: tuple[Place, ...]
    pitches: tuple[int, ...]
    code: int
    strings: int
    holds: tuple[Hold, ...]
    price: float


def code_of(place: Place) -> int:
    """A place as one number; the numbers of places on different strings may be added up."""
    return (place.fret + 1) << _BITS * (place.string - 1)


def held_code(place: Place, finger: int) -> int:
    """The finger on a place as one number, to be added up like those of places; 0 for an open string."""
    return finger << _FINGER_BITS * (place.string - 1)


class Grips:
    """One neck and one way of plucking, and all that has been asked of them. Make one by `grips_on`."""

    def __init__(self, neck: Fretboard, plucking: Plucking) -> None:
        self.neck = neck
        self._plucking = plucking
        self._held: dict[int, Hold | None] = {}
        self._held_on: dict[tuple[int, int], Hold | None] = {}
        self._spots: dict[tuple[Place, int], Spot] = {}
        self._hand = hand_on(neck)

    def held(self, code: int) -> Hold | None:
        """How the places of a number are held; None where no hand can."""
        try:
            return self._held[code]
        except KeyError:
            if len(self._held) >= REMEMBERED:
                self._held.clear()
            held = self._hand.hold(Grip(tuple(self._frets(code))))
            found = self._held[code] = _hold(held) if isinstance(held, Fingering) else None
            return found

    def held_on(self, code: int, kept: int) -> Hold | None:
        """How the places of a number are held with the fingers on some of them left where they are.

        Args:
            code: of all places.
            kept: the sum of `held_code` of those whose fingers stay.

        Returns:
            None where no hand can; the easiest fingering of all, where it leaves those fingers alone.
        """
        key = code, kept
        try:
            return self._held_on[key]
        except KeyError:
            if len(self._held_on) >= REMEMBERED:
                self._held_on.clear()
            found = self._held_on[key] = self._found_on(code, kept)
            return found

    def spot(self, place: Place, finger: int) -> Spot:
        """A finger on a place; there are no more than a few hundred."""
        key = place, finger
        try:
            return self._spots[key]
        except KeyError:
            spot = Spot(place, finger, code_of(place), 1 << place.string, held_code(place, finger))
            self._spots[key] = spot
            return spot

    def _found_on(self, code: int, kept: int) -> Hold | None:
        hold = self.held(code)
        if hold is None:
            return None
        placed, easiest = tuple(self._placed(kept)), hold[2]
        if all(easiest.fingers[row] == finger for row, finger in placed):
            return hold
        found = self._hand.hold_on(easiest.grip, placed)
        return None if found is None else _hold(found)

    def _placed(self, kept: int) -> Iterator[tuple[int, int]]:
        """The rows whose fingers stay, from the lowest string, each with its finger."""
        for string in range(self.neck.strings, 0, -1):
            finger = kept >> _FINGER_BITS * (string - 1) & _FINGER_MASK
            if finger:
                yield self.neck.strings - string, finger

    def _frets(self, code: int) -> Iterator[int]:
        for string in range(self.neck.strings, 0, -1):
            yield (code >> _BITS * (string - 1) & _MASK) - 1

    @lru_cache(maxsize=16384)  # noqa: B019 - one object a neck, for the whole run
    def near(self, voices: tuple[Voice, ...], *, rolled: bool) -> tuple[Option, ...]:
        """The options that keep every place that was given, but for a bass note's string."""
        choices = [self._own_choices(voice) for voice in voices]
        return tuple(self._options(voices, product(*choices), rolled=rolled))

    @lru_cache(maxsize=16384)  # noqa: B019 - as above
    def anywhere(self, voices: tuple[Voice, ...], *, rolled: bool) -> tuple[Option, ...]:
        """The best options for each position, wherever on the neck, the bass in other octaves too."""
        found = sorted(self._options(voices, self._spread(voices), rolled=rolled), key=_whole_price)
        kept: list[Option] = []
        count: dict[tuple[int, tuple[int, ...]], int] = {}
        for option in found:
            key = option.holds[0][0], option.pitches
            count[key] = count.get(key, 0) + 1
            if count[key] <= _EACH_POSITION:
                kept.append(option)
        return tuple(kept)

    def _own_choices(self, voice: Voice) -> tuple[Place, ...]:
        own = voice.place
        if own is None:
            return self.neck.places(voice.pitch)
        if voice.part != BASS:
            return (own,)
        low = self.neck.strings - _THUMB_STRINGS
        return (own, *(one for one in self.neck.places(voice.pitch) if one.string > low and one != own))

    def _spread(self, voices: tuple[Voice, ...]) -> list[tuple[Place, ...]]:
        """All ways to put the notes on a string each within a hand's width."""
        found: list[tuple[Place, ...]] = [()]
        for voice in voices:
            choices = self._all_choices(voice)
            found = [(*before, place) for before in found for place in choices if _beside(before, place)]
        return found

    def _all_choices(self, voice: Voice) -> tuple[Place, ...]:
        places = self.neck.places(voice.pitch)
        if voice.part != BASS:
            return places
        octaves = (*self.neck.places(voice.pitch - _OCTAVE), *self.neck.places(voice.pitch + _OCTAVE))
        low = self.neck.strings - _THUMB_STRINGS
        return (*places, *(place for place in octaves if place.string > low))

    def _options(
        self, voices: tuple[Voice, ...], choices: Iterable[tuple[Place, ...]], *, rolled: bool
    ) -> Iterator[Option]:
        for places in choices:
            strings = sum(1 << place.string for place in set(places))
            if strings.bit_count() < len(places) or not self._sounds(places, rolled=rolled):
                continue
            code = sum(map(code_of, places))
            hold = self.held(code)
            if hold is not None:
                pitches = tuple(self.neck.pitch(*place) for place in places)
                price = sum(map(_price_of, voices, places, pitches))
                holds = tuple(self._holds(hold, code, places))
                yield Option(places, pitches, code, strings, holds, price)

    def _holds(self, easiest: Hold, code: int, places: tuple[Place, ...]) -> Iterator[Hold]:
        """The ways to finger one or two stopped notes, the least costly first.

        The lower of them may be any finger's, which keeps the hand where it is, or leaves it free for more.
        """
        yield easiest
        stopped = [place for place in places if place.fret]
        if 1 <= len(stopped) == len(easiest[2].stops) <= _FINGERED_ANYHOW:
            lower = max(stopped)
            for finger in range(INDEX, LITTLE + 1):
                way = self.held_on(code, held_code(lower, finger))
                if way is not None and way[2].fingers != easiest[2].fingers:
                    yield way

    def _sounds(self, places: tuple[Place, ...], *, rolled: bool) -> bool:
        """Whether the hand holds the places and the other hand sounds them."""
        if rolled or len(places) < 2:
            return self.held(sum(map(code_of, places))) is not None
        hand = hand_on(self.neck, damps=self._plucking is Plucking.PICK)
        held = hand.hold(Grip.from_places(places, strings=self.neck.strings))
        return isinstance(held, Fingering) and not why_not_plucked(held, self._plucking)


@lru_cache(maxsize=16)
def grips_on(neck: Fretboard, plucking: Plucking) -> Grips:
    """The grips of a neck, one object for everybody who asks, for it keeps what it has worked out."""
    return Grips(neck, plucking)


def _beside(before: tuple[Place, ...], place: Place) -> bool:
    """Whether a place may be added: on another string, and not too far off."""
    return all(
        place.string != other.string
        and (not place.fret or not other.fret or abs(place.fret - other.fret) <= _WIDEST)
        for other in before
    )


def _price_of(voice: Voice, place: Place, pitch: int) -> float:
    price = _LOW_STRING * (place.string - 1) if voice.part == MELODY else 0.0
    price += _MOVED * (voice.part == COMP and voice.place is not None and place != voice.place)
    return price + _OTHER_OCTAVE * (pitch != voice.pitch)


def _whole_price(option: Option) -> float:
    return option.price + option.holds[0][2].cost


def _hold(fingering: Fingering) -> Hold:
    return fingering.position, STRAIN * fingering.cost, fingering
