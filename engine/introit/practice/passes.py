"""One playing in the practice room, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from introit.library.leading import Bars
from introit.theory.key import Key
from introit.theory.numeral import Numeral

FULL = 100
"""The melody's level where nothing is faded, in percent."""


class Planted(NamedTuple):
    """A mistake made on purpose, for the ear.

    Attributes:
        chord: index of the chord in the intro, from 0.
        tick: where it begins, from the pass's first downbeat.
        end: where the chord ends, likewise.
        instead: what the comp plays in its place; None where it leaves the chord out.
    """

    chord: int
    tick: int
    end: int
    instead: Numeral | None = None


class Coming(NamedTuple):
    """What is sure of the next pass while one still plays; to be told from a bar ahead of it.

    Attributes:
        text: for the screen, such as `next: Eb minor`; empty where nothing changes that is known yet.
        key: the next pass's.
        tune: index of the next pass's tune.
    """

    text: str
    key: Key
    tune: int


@dataclass(frozen=True, slots=True)
class Pass:
    """One playing of what is practised: all that is decided before it begins.

    Attributes:
        number: from 1, of the practice.
        tune: index of the tune among those that are practised.
        intro: the intro's id.
        key: the key.
        tempo: quarter notes a minute.
        rounds: how often it is played without a gap, from 1.
        bars: the passage; None for the whole intro.
        rest: bars from its end to what begins the next pass, its lead-in or its first bar; 1 to 16.
        count: bars of click in its lead-in; 0 for none.
        cue: whether a chord of its key sounds a bar ahead, in its lead-in.
        hidden: parts that send nothing, by their names in `performance.PARTS`.
        melody: the melody's level in percent of its own, 0 to 100; at 0 it sends nothing.
        answer: the tool plays so many bars, then leaves as many to the player; 0 for never.
        build: which lesson grows with each press, `chords` or `strings`; empty for none.
        step: of that lesson, from 1; 0 where there is none.
        steps: how many steps it has; 0 where there is none.
        planted: the mistake to be heard; None where there is none.
        seed: of the arranging; the same one for all passes, so the notes of a key stay.
        coming: what of the next pass is sure already.
    """

    number: int
    tune: int
    intro: str
    key: Key
    tempo: float
    rounds: int = 1
    bars: Bars | None = None
    rest: int = 1
    count: int = 0
    cue: bool = False
    hidden: frozenset[str] = frozenset()
    melody: int = FULL
    answer: int = 0
    build: str = ""
    step: int = 0
    steps: int = 0
    planted: Planted | None = None
    seed: int = 0
    coming: Coming | None = None

    @property
    def lead_in(self) -> int:
        """Bars before its first downbeat, on negative ticks: those of the count, or one for the cue alone."""
        return max(self.count, int(self.cue))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a pass.

    Attributes:
        marks: the presses that count for it, in ticks from its first downbeat, in their order.
        over: whether the player has ended the practice.
    """

    marks: tuple[int, ...] = ()
    over: bool = False
