"""Everything that one guitar plays, put on its neck so that one pair of hands can play it.

From onset to onset the hand holds what still rings and what begins. A note that has no place yet gets the one
that suits the hand; where not all can be held, what rings is let go first (inner voices before the melody and
the bass), then inner voices of the new grip are left out, the bass last of all. The best way is kept among a
few, so that no place is chosen that leads into a leap. Where all of them lead into one, notes may leave the
places that they were given, and at last be left out for a later one's sake.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from copy import copy
from itertools import combinations, groupby, pairwise, tee
from operator import itemgetter
from typing import NamedTuple

from introit.arrange.one_guitar.grips import Grips, Option, Voice, grips_on
from introit.arrange.one_guitar.onward import Best, Neighbours, Onward, Rubs, Setting
from introit.arrange.one_guitar.way import LEFT_OUT, START, Way, played, prices_of_leaving_out
from introit.arrange.score import BASS, COMP, ScoreNote, Touch
from introit.theory.fretboard import Fretboard, Place
from introit.theory.plucking import Plucking


class _Search(NamedTuple):
    """How a way is looked for.

    Attributes:
        kept: ways kept from onset to onset: a judgement between time and foresight.
        anywhere: whether notes may leave the places that they were given.
        thin: whether notes may be left out for a later one's sake.
    """

    kept: int
    anywhere: bool
    thin: bool


_SEARCHES = (_Search(4, False, False), _Search(8, True, False), _Search(32, True, True))
"""One after the other, until one finds a way without a leap. For a skip of the top voice that nobody asked
for only the second is tried, too."""
STEP = 2
_ROUNDING = 1e-6
"""More than sums of prices in another order differ by."""


class _Step(NamedTuple):
    """What begins at one onset: indices of notes."""

    onset: int
    notes: tuple[int, ...]
    rolled: bool


def _never(_ringing: ScoreNote, _fresh: ScoreNote) -> bool:
    return False


def fitted(
    notes: Iterable[ScoreNote],
    neck: Fretboard,
    *,
    plucking: Plucking,
    bar_ticks: int,
    rubs: Rubs = _never,
) -> list[ScoreNote]:
    """The notes as one guitar plays them: each with string, fret and finger, the union held by one hand.

    Args:
        notes: melody, comp and bass; places that are given are kept where that asks for no leap.
        neck: where they are put.
        plucking: how the strings are sounded.
        bar_ticks: ticks in a bar.
        rubs: whether a note (the first) may not go on ringing under or over one that begins.
    """
    ordered = sorted(_on_neck(notes, neck), key=lambda note: (note.onset, note.pitch, -note.part))
    fitter = _Fitter(ordered, grips_on(neck, plucking), bar_ticks, rubs)
    steps = list(_steps(ordered))
    best: list[ScoreNote] = []
    worth = len(ordered), 0, 0.0
    for search in _SEARCHES:
        way = fitter.best_way(steps, search)
        heard = list(played(way, ordered))
        own = way.wild, _skips_made(heard, ordered), way.price
        if own < worth:
            best, worth = heard, own
        if not worth[0] and (search.anywhere or not worth[1]):
            break
    return sorted(best)


def _skips_made(heard: Sequence[ScoreNote], ordered: Sequence[ScoreNote]) -> int:
    """Skips of the comp's top voice that only notes left out have made; a lost grip is as bad."""
    if len(heard) == len(ordered):
        return 0
    grips = Counter(note.onset for note in ordered if note.part == COMP)
    lost = set(grips).difference(note.onset for note in heard if note.part == COMP)
    return max(0, _skips(heard, grips) - _skips(ordered, grips)) + len(lost)


def _skips(notes: Iterable[ScoreNote], grips: Counter[int]) -> int:
    """Moves of the top voice by more than a step, from grip to grip; a note alone is none."""
    tops: dict[int, int] = {}
    for note in notes:
        if note.part == COMP and grips[note.onset] > 1:
            tops[note.onset] = max(note.pitch, tops.get(note.onset, 0))
    line = [tops[onset] for onset in sorted(tops)]
    return sum(abs(after - before) > STEP for before, after in pairwise(line))


def _on_neck(notes: Iterable[ScoreNote], neck: Fretboard) -> Iterator[ScoreNote]:
    """The notes, a bass player's low ones raised to where the neck begins."""
    lowest = neck.open_pitches[0]
    for note in notes:
        octaves = max(0, -(-(lowest - note.pitch) // 12))
        yield note._replace(pitch=note.pitch + 12 * octaves) if octaves else note


def _steps(ordered: Sequence[ScoreNote]) -> Iterator[_Step]:
    for onset, group in groupby(range(len(ordered)), key=lambda index: ordered[index].onset):
        notes: dict[int, int] = {}
        for index in group:  # of two parts on one pitch the last stays: melody before bass before comp
            notes[ordered[index].pitch] = index
        indices = tuple(notes.values())
        yield _Step(onset, indices, any(ordered[i].touch is Touch.ROLLED for i in indices))


class _Fitter:
    """Goes on from one way to the next onset's ways."""

    def __init__(self, notes: Sequence[ScoreNote], grips: Grips, bar_ticks: int, rubs: Rubs) -> None:
        self._notes = notes
        self._grips = grips
        self._neighbours = Neighbours(notes, grips, bar_ticks, rubs)
        self._spared = prices_of_leaving_out(notes)
        self._voices = [_voice(note) for note in notes]

    def best_way(self, steps: Sequence[_Step], search: _Search) -> Way:
        """The cheapest way through all steps; from step to step the best for each position is kept."""
        ways = [START]
        for step in steps:
            best: Best = {}
            (settings,) = tee(self._settings(step, search), 1)
            for before in ways:  # the cheapest first
                if _is_beaten(before, best, search.kept):
                    break
                # each reads the settings from the first again, but they are worked out once
                self._go_on(before, step, copy(settings), best, thin=search.thin)
            ways = [
                offer[1].taken(offer) for offer in sorted(best.values(), key=itemgetter(0))[: search.kept]
            ]
        return ways[0]

    def _go_on(self, way: Way, step: _Step, settings: Iterable[Setting], best: Best, *, thin: bool) -> None:
        """Offers all ways to play a step after a way, with no more notes left out than need be."""
        after = Onward(way, step.onset, self._neighbours, best)
        for setting in settings:
            after.play(setting)
            if after.calm and not thin:
                return
        if not after.found:
            after.give_up()

    def _settings(self, step: _Step, search: _Search) -> Iterator[Setting]:
        """By what is left out, and whether the rest may lie anywhere: all may before any is left out."""
        for left_out in _leaving_out([self._notes[index].part for index in step.notes]):
            yield self._setting(step, left_out, anywhere=search.anywhere)
            if not left_out and not search.anywhere:
                yield self._setting(step, left_out, anywhere=True)

    def _setting(self, step: _Step, left_out: frozenset[int], *, anywhere: bool) -> Setting:
        notes = tuple(note for at, note in enumerate(step.notes) if at not in left_out)
        spared = [self._spared[step.notes[at]] for at in left_out]
        price, rootless = sum(spared), int(LEFT_OUT[BASS] in spared)
        voices = tuple([self._voices[note] for note in notes])
        if not anywhere:
            return Setting(notes, price, rootless, self._grips.near(voices, rolled=step.rolled))
        options = self._grips.anywhere(voices, rolled=step.rolled)
        return Setting(notes, price, rootless, tuple(one for one in options if self._is_clean(notes, one)))

    def _is_clean(self, notes: tuple[int, ...], option: Option) -> bool:
        """Whether a bass note that has moved by an octave is still the bass."""
        sounds = list(zip(notes, option.pitches, strict=True))
        moved = [(note, pitch) for note, pitch in sounds if pitch != self._notes[note].pitch]
        return all(
            high > pitch and not self._neighbours.rub(note, pitch, other, high)
            for note, pitch in moved
            for other, high in sounds
            if other != note
        )


def _is_beaten(before: Way, best: Best, kept: int) -> bool:
    """Whether a way is dearer already than as many ways on as are kept: none of its own would be."""
    if len(best) < kept:
        return False
    prices = sorted([offer[0] for offer in best.values()])
    return before.price - _ROUNDING > prices[kept - 1]


def _voice(note: ScoreNote) -> Voice:
    own = note.string is not None and note.fret is not None
    return Voice(note.part, note.pitch, Place(note.string or 0, note.fret or 0) if own else None)


def _leaving_out(parts: Sequence[int]) -> Iterator[frozenset[int]]:
    """Which notes of a group are left out: none, one inner voice, two, all of them, then the bass too."""
    inner = [at for at, part in enumerate(parts) if part == COMP]
    for count in range(len(inner) + 1):
        yield from map(frozenset, combinations(inner, count))
    bass = [at for at, part in enumerate(parts) if part == BASS]
    if bass:
        yield frozenset((*inner, *bass))
