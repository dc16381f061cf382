"""An intro's chords with all their candidates as one problem, and the bounds that its solution keeps.

What holds from one chord to the next is in the prices of the moves. What holds for the whole, such as how
many voices the chords have on the average, is reached by making what is over its bound dearer and searching
again.
Prices are judgement, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from introit.arrange.voicing.choice import PLAIN_SHELL
from introit.arrange.voicing.cost import FOURTH, STEP, Pitches, Prices
from introit.arrange.voicing.search import Marks, best_path
from introit.arrange.voicing.ways import FORBIDDEN

MOST_SEARCHES, FEW_SEARCHES = 12, 3
"""After a few, a path will do that breaks nothing but a bound kept for safety."""
MORE_SEARCHES = 6
"""When none of those kept all bounds, for two push each other back and forth: with both parted."""
UNFIT = 20.0
"""What is then on the wrong side; a tone that is wanted on top, or a clash, costs more."""
PLAIN_VOICES, MOST_VOICES = 3, 6
MEAN_VOICES, MOST_MEAN = 3.25, 3.3
"""A little under what the review of a score allows, and that: hits count there, units here."""
FEWEST_JUDGED = 4
"""Hits on which that is asked, or chords: the one chord of a short intro may be full."""
EACH_VOICE = 0.5
"""Added to each voice past the third while there are too many."""
MOST_FOR_THIN = 25.0
"""What a thin grip, or one with few tensions, may cost over the cheapest; a tone that is wanted on top costs
more."""
FULL_VOICES, FULL_AGAIN = 5, 30.0
FEWEST_MOVES, MOST_SKIPS, MOST_ALLOWED, SKIP_AGAIN = 8, 0.22, 0.3, 0.8
"""As of so many moves of the top voice at least; less than the 30 % that the review allows, for a texture or
the hand may change some. Repeats are steps."""
LEAP_AGAIN = 3.0
BARS_OF_A_LEAP = 4
HITS_OF_A_SHELL, PLAIN_AGAIN = 8, 6.0
"""Hits of which one is a plain shell, and how much more it is worth each time that none was."""
TENSER_THAN_LAST = 3.0
RICH, TOO_PLAIN, BARE = 2, 4.0, 6.0
"""So many tensions the last dominant has where it can, for a texture may sound as many that are not known
here; what each costs that it has not, and what it costs to have none at all."""
BROKEN, NEARLY, UNHELD = 2, 1, 100
"""How bad it is: a bound of the review's, one that is kept for safety, a shift that no hand makes."""


@dataclass
class Whole:
    """The problem. The prices are changed in the search.

    Attributes:
        own: (u, n) price of each candidate.
        moves: (u - 1, n, n) price of each move.
        plain: (u, n) which candidates are plain shells.
        voices: (u, n) how many voices each has, a bass note in the grip not counted.
        tensions: (u, n) how many tensions.
        leaps: (u - 1, n, n) semitones that the top voice moves.
        jumps: (u - 1, n, n) where the hand moves farther than it may without a rest; None on keys.
        ticks: where each unit begins or, where that is known, is first struck.
        bar_ticks: ticks in a bar.
        weights: (u,) how much each counts: its length or, where that is known, how often it is struck.
        chords: the chord of each unit, as an index.
        last_dominant: the unit that may be the tensest; None where there is no dominant.
        held: whether one tone is held on top, which goes before a bound.
        hits: how often the chords are struck in all; 0 where that is not known.
        searches: how often too many voices were found; each time they become dearer faster.
        jumpy: how often too many skips of the top voice were; so do they.
        uncalm: whether a chord was tenser than the last dominant in any search.
        reward: worth of the first plain shell.
    """

    own: Prices
    moves: Prices
    plain: Marks
    voices: Pitches
    tensions: Pitches
    leaps: npt.NDArray[np.int8]
    jumps: Marks | None
    ticks: list[int]
    bar_ticks: int
    weights: Pitches
    chords: list[int]
    last_dominant: int | None
    held: bool = False
    hits: int = 0
    searches: int = 0
    jumpy: int = 0
    uncalm: bool = False
    reward: float = PLAIN_SHELL

    def weigh(self, hits: list[int]) -> None:
        """Lets each unit count as often as it is struck.

        A plain shell has to be struck at all, and so has the last dominant: a unit of it that is not gives
        way to an earlier one that is.
        """
        self.weights = np.array(hits)
        self.hits = sum(hits)
        self.plain[self.weights == 0] = False
        last = self.last_dominant
        if last is not None and not hits[last]:
            struck = [
                unit for unit, chord in enumerate(self.chords) if chord == self.chords[last] and hits[unit]
            ]
            self.last_dominant = max(struck, default=last)

    def strike(self, ticks: list[int]) -> None:
        """Lets each unit count from where it is first struck: a push is heard in the bar before."""
        self.ticks = ticks

    def solve(self) -> list[int]:
        """Index of the candidate of each unit: the first path that keeps all bounds, or breaks the fewest."""
        found: list[tuple[int, int, list[int]]] = []
        self._enrich()
        for search in range(MOST_SEARCHES + MORE_SEARCHES):
            if search == MOST_SEARCHES and not self._settle():
                break
            path = best_path(self.own, self.moves, marked=self.plain, reward=self.reward)
            found.append((self._mend(path), search, path))
            if found[-1][0] <= (NEARLY if search >= FEW_SEARCHES else 0):
                break
        return min(found)[-1]

    def _settle(self) -> bool:
        """Where tensions and another bound push each other back and forth: few will do, in all chords alike.

        As few as every chord can do with; more are heard in no other, and the last dominant has them.

        Returns:
            Whether that is so.
        """
        last = self.last_dominant
        if last is None or self.held or not self.uncalm:
            return False
        found = self.own < self.own.min(axis=1, keepdims=True) + MOST_FOR_THIN
        others = np.delete(np.where(found, self.tensions, MOST_VOICES).min(axis=1), last)
        few = max(1, int(others.max(initial=0)))
        if not (found & (self.tensions >= few))[last].any():
            return False
        unfit = self.tensions > few
        unfit[last] = self.tensions[last] < few
        self.own += UNFIT * unfit
        return True

    def _enrich(self) -> None:
        """Makes the last dominant dearer that has fewer tensions than a chord is likely to have elsewhere."""
        for unit in np.flatnonzero(self._densest):
            most = min(RICH, int(self.tensions[unit].max()))
            self.own[unit] += TOO_PLAIN * np.maximum(most - self.tensions[unit], 0)
            self.own[unit] += BARE * (self.tensions[unit] < min(most, 1))

    def _mend(self, path: list[int]) -> int:
        """Makes dearer what is over its bound; says how bad it is."""
        # All of them each time: one search more may mend several.
        line = self._keep_line(path) + self._keep_still(path)
        return self._thin(path) + self._calm(path) + self._dress(path) + self._show_plain(path) + line

    def _show_plain(self, path: list[int]) -> int:
        """Of many hits one is a plain shell, where any can be."""
        if self.hits < HITS_OF_A_SHELL or not self.plain.any():
            return 0
        if any(self.plain[unit, index] for unit, index in enumerate(path)):
            return 0
        self.reward += PLAIN_AGAIN
        return BROKEN

    def _thin(self, path: list[int]) -> int:
        voices = self.voices[self._units, path]
        judged = self._judged
        enough = int(self.hits or judged.sum()) >= FEWEST_JUDGED
        mean = self._mean_of(voices) if enough else 0.0
        over = mean > MEAN_VOICES
        if over:
            self.searches += 1
            others_full = bool((voices[judged & ~self._densest & self._thinned] > PLAIN_VOICES).any())
            few_enough = np.full(len(path), PLAIN_VOICES if others_full else PLAIN_VOICES - 1)
            few_enough[self._densest] = MOST_VOICES if others_full else PLAIN_VOICES  # thinned last
            few_enough[~judged] = MOST_VOICES
            dearer = EACH_VOICE * self.searches * np.maximum(self.voices - few_enough[:, None], 0)
            self.own += dearer
        full = np.flatnonzero(voices >= FULL_VOICES)[1:]
        for unit in full:
            self.own[unit] += FULL_AGAIN * (self.voices[unit] >= FULL_VOICES)
        nearly = over and self.hits and mean <= MOST_MEAN
        return (NEARLY if nearly else BROKEN * over) + BROKEN * len(full)

    @cached_property
    def _units(self) -> Pitches:
        """The indices of all units."""
        return np.arange(len(self.own))

    @cached_property
    def _judged(self) -> Marks:
        """The units whose voices count: bells are what they are, and so is what nobody strikes."""
        few: Marks = (self.voices > 0) & (self.voices <= PLAIN_VOICES)
        judged: Marks = np.asarray(few.any(axis=1))
        return judged & (self.weights > 0) if self.hits else judged

    @cached_property
    def _thinned(self) -> Marks:
        """The units that can be thin for little; a tone held on top, or a bass note shared, may forbid it."""
        thin = np.where((self.voices > 0) & (self.voices <= PLAIN_VOICES), self.own, np.inf)
        little: Marks = thin.min(axis=1) < self.own.min(axis=1) + MOST_FOR_THIN
        return little

    @cached_property
    def _densest(self) -> Marks:
        """The units of the last dominant."""
        if self.last_dominant is None:
            return np.zeros(len(self.own), dtype=np.bool_)
        found: Marks = np.array(self.chords) == self.chords[self.last_dominant]
        return found

    @cached_property
    def _counted(self) -> Pitches:
        """How much the voices of each unit count; 0 for those that are not judged."""
        return self.weights * self._judged

    def _mean_of(self, voices: Pitches) -> float:
        """Voices a hit; where hits are not known, a chord or so long a stretch of it: the greater."""
        by_weight = int(voices @ self._counted) / max(1, int(self._counted.sum()))
        return by_weight if self.hits else max(float(voices[self._judged].mean()), by_weight)

    def _calm(self, path: list[int]) -> int:
        """The last dominant is the tensest, or as tense as any."""
        if self.last_dominant is None:
            return 0
        most = int(self.tensions[self.last_dominant, path[self.last_dominant]])
        tenser = [unit for unit, index in enumerate(path) if self.tensions[unit, index] > most]
        self.uncalm |= bool(tenser) and most > 0  # with none at all the melody has them
        for unit in tenser:
            self.own[unit] += TENSER_THAN_LAST * (self.tensions[unit] > most)
        # Where there are too many voices another one at last is no way out: the others give way alone.
        if tenser and not self.searches and (self.tensions[self.last_dominant] > most).any():
            self.own[self.last_dominant] += TENSER_THAN_LAST * (self.tensions[self.last_dominant] <= most)
        return BROKEN * len(tenser)

    def _dress(self, path: list[int]) -> int:
        """The last dominant is not left bare where voices are thinned: a texture may sound a tension."""
        last = self.last_dominant
        thinned = self.searches > 0
        if not thinned or last is None or self.tensions[last, path[last]] or not self.tensions[last].any():
            return 0
        self.own[last] += BARE * (self.tensions[last] == 0)
        return NEARLY

    def _keep_line(self, path: list[int]) -> int:
        """Most moves of the top voice are steps; at most one in four bars is a leap over a fourth."""
        moved = [int(self.leaps[unit, one, other]) for unit, (one, other) in enumerate(pairwise(path))]
        skips = sum(leap > STEP for leap in moved)
        judged = self._moves >= FEWEST_MOVES
        moves = max(FEWEST_MOVES, self._moves)
        jumpy = skips > MOST_SKIPS * moves
        if jumpy:
            self.jumpy += 1
            self.moves += SKIP_AGAIN * self.jumpy * (self.leaps > STEP)
        leaping = [unit for unit, leap in enumerate(moved) if leap > FOURTH]
        again = [
            second
            for first, second in pairwise(leaping)
            if self.ticks[second + 1] - self.ticks[first + 1] < BARS_OF_A_LEAP * self.bar_ticks
        ]
        for unit in again:
            self.moves[unit] += LEAP_AGAIN * (self.leaps[unit] > FOURTH)
        return (BROKEN if judged and skips > MOST_ALLOWED * moves else jumpy) + BROKEN * len(again)

    @property
    def _moves(self) -> int:
        """Moves of the top voice, at least; what is never hit has a top note as well where it rings."""
        return int(np.maximum(self.weights, 1).sum() if self.hits else len(self.own)) - 1

    def _keep_still(self, path: list[int]) -> int:
        """At most one shift of the hand over four frets a bar."""
        if self.jumps is None:
            return 0
        jumping = [unit for unit, (one, other) in enumerate(pairwise(path)) if self.jumps[unit, one, other]]
        bars = [self.ticks[unit + 1] // self.bar_ticks for unit in jumping]
        again = [
            second
            for (_, second), (before, after) in zip(pairwise(jumping), pairwise(bars), strict=True)
            if before == after
        ]
        for unit in again:
            self.moves[unit] += FORBIDDEN * self.jumps[unit]
        return UNHELD * len(again)
