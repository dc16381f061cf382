"""What is practised, and how: a value, checked when it is made."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from introit.errors import UsageError
from introit.library.leading import Bars
from introit.theory.key import Key, Mode
from introit.units import TEMPO_MAX, TEMPO_MIN

MOST_REST = 16
MOST_COUNT = 4
MOST_ROUNDS = 64
MOST_PASSES = 10_000
MOST_CLEAN = 20
MOST_ANSWER = 16
FEWEST_FADES, MOST_FADES = 2, 20
HIDEABLE = ("melody", "comp", "bass")
"""Parts that can be left out. With the bass goes the pedal point: it is the bass player's."""


class Order(StrEnum):
    """In which order the keys come."""

    FOURTHS = "fourths"
    FIFTHS = "fifths"
    HALF_STEPS = "half steps"
    HALF_STEPS_DOWN = "half steps down"
    WHOLE_STEPS = "whole steps"
    WHOLE_STEPS_DOWN = "whole steps down"
    MINOR_THIRDS = "minor thirds"
    RANDOM = "random"
    AS_GIVEN = "as given"
    """In the order in which the player's own keys stand."""


class Ear(StrEnum):
    """Which mistakes are made for the ear."""

    OUT = "out"
    """A chord is left out."""
    SWAPPED = "swapped"
    """A wrong chord stands in its place."""
    BOTH = "both"
    """Either, at random."""


class Lesson(StrEnum):
    """What grows with each press."""

    CHORDS = "chords"
    """A turnaround, from its plain chords to their substitutes, under one top line."""
    STRINGS = "strings"
    """The same voicing, on one string set after the other."""


@dataclass(frozen=True, slots=True)
class Keys:
    """A round of keys.

    Attributes:
        order: in which they come, from the tune's own key.
        own: only these; empty for all twelve of each mode.
        of_set: only those of the tunes that are practised, in place of `own`.
        modes: of the keys; empty for the tune's own mode. With both, all of the first, then of the
            second, as far as the intro has forms for them.
        each: how often a key is played before the next one comes, from 1.
        cue: whether a chord of the coming key sounds a bar ahead.
    """

    order: Order = Order.FOURTHS
    own: tuple[Key, ...] = ()
    of_set: bool = False
    modes: tuple[Mode, ...] = ()
    each: int = 1
    cue: bool = False

    def __post_init__(self) -> None:
        _within("each key is played", self.each, 1, MOST_CLEAN, "times")
        if self.own and self.of_set:
            raise UsageError("keys are those of the set or those that are named, not both")
        if self.order is Order.AS_GIVEN and not (self.own or self.of_set):
            raise UsageError("keys in the order of the set need a set, or names, as in 'keys C, F, Bb'")


@dataclass(frozen=True, slots=True)
class Climb:
    """A tempo that climbs.

    Attributes:
        low, high: its bounds, quarter notes a minute; it begins at the low one.
        step: quarter notes a minute from one tempo to the next; the last step may be a shorter one.
        each: passes at a tempo before it goes up: clean ones, one after the other, where clean is pressed.
        pressed: whether the player presses for a clean pass; if not, every pass counts.
        back: whether it comes down again by the same steps from the top, and goes up again from the bottom.
    """

    low: float
    high: float
    step: float = 4
    each: int = 1
    pressed: bool = False
    back: bool = False

    def __post_init__(self) -> None:
        for tempo in (self.low, self.high):
            _within("a tempo is", tempo, TEMPO_MIN, TEMPO_MAX, "quarter notes a minute")
        if self.low >= self.high:
            raise UsageError(
                f"climb goes from a tempo to a faster one, not from {self.low:g} to {self.high:g}"
                + (f". Did you mean 'climb {self.high:g} to {self.low:g}'?" if self.low > self.high else "")
            )
        if not 1 <= self.step <= self.high - self.low:
            raise UsageError(
                f"climb goes up by {self.step:g}; allowed is 1 to {self.high - self.low:g} "
                f"between {self.low:g} and {self.high:g}"
            )
        _within("climb waits for", self.each, 1, MOST_CLEAN, "passes at each tempo")


@dataclass(frozen=True, slots=True)
class Hide:
    """Parts that are left out.

    Attributes:
        parts: of `HIDEABLE`, each once.
        in_turn: one of them a pass, in this order; else all of them in every pass.
    """

    parts: tuple[str, ...] = HIDEABLE
    in_turn: bool = True

    def __post_init__(self) -> None:
        if not self.parts or len(set(self.parts)) != len(self.parts) or not set(self.parts) <= set(HIDEABLE):
            raise UsageError(f"hide takes {', '.join(HIDEABLE)}, each once; given is {', '.join(self.parts)}")


@dataclass(frozen=True, slots=True)
class Goal:
    """What is practised, and how.

    Attributes:
        bars: a passage; None for the whole intro.
        rounds: how often a pass plays it without a gap.
        rest: bars between passes, 1 to 16.
        count: bars of click before each pass, 0 to 4.
        tempo: quarter notes a minute; None for the tune's own.
        passes: after so many it is over; None for when the player ends it.
        keys, climb, hide: each None where that is not practised.
        fade: passes from the melody as it is to none of it, both counted; 0 for no fading.
        answer: bars that the tool plays, and then as many for the player; 0 for none.
        build: a lesson that grows with each press; None for none.
        ear: mistakes made on purpose; None for none.

    Raises:
        UsageError: for a value out of range, or for two things that cannot be practised at once.
    """

    bars: Bars | None = None
    rounds: int = 1
    rest: int = 1
    count: int = 0
    tempo: float | None = None
    passes: int | None = None
    keys: Keys | None = None
    climb: Climb | None = None
    hide: Hide | None = None
    fade: int = 0
    answer: int = 0
    build: Lesson | None = None
    ear: Ear | None = None

    def __post_init__(self) -> None:
        _within("rest is", self.rest, 1, MOST_REST, "bars")
        _within("count is", self.count, 0, MOST_COUNT, "bars")
        _within("rounds are", self.rounds, 1, MOST_ROUNDS, "")
        _within("answer takes", self.answer, 0, MOST_ANSWER, "bars")
        if self.passes is not None:
            _within("passes are", self.passes, 1, MOST_PASSES, "")
        if self.tempo is not None:
            _within("a tempo is", self.tempo, TEMPO_MIN, TEMPO_MAX, "quarter notes a minute")
        if self.fade:
            _within("the melody fades over", self.fade, FEWEST_FADES, MOST_FADES, "passes")
        if self.bars is not None and not 1 <= self.bars.first <= self.bars.last:
            raise UsageError(
                f"a passage goes from a bar to the same or a later one, counted from 1; not {self.bars}"
            )
        reason = _not_together(self)
        if reason is not None:
            raise UsageError(reason)


def _not_together(goal: Goal) -> str | None:
    """Why two things that are asked for cannot be practised at once; None when they can."""
    pressed = goal.climb is not None and goal.climb.pressed
    hidden = goal.hide.parts if goal.hide else ()
    by_itself = "let climb go up by itself: leave out 'clean'"
    clashes = (
        (
            goal.build and pressed,
            f"a press takes build to its next step, so it cannot say clean for climb too; {by_itself}",
        ),
        (
            goal.ear and pressed,
            f"a press says where a mistake was heard, so it cannot say clean for climb too; {by_itself}",
        ),
        (goal.ear and goal.build, "build and listen both wait for the press; practise one of them"),
        (goal.build and goal.bars, "build has bars of its own; leave out the passage"),
        (
            goal.build is Lesson.STRINGS and (hidden or goal.fade or goal.answer),
            "the string sets are chords alone: there is nothing to hide, fade or answer",
        ),
        (goal.ear and "comp" in hidden, "listen is for mistakes of the comp, so hide must leave the comp in"),
        (
            goal.ear and goal.answer,
            "listen needs the comp in every bar; answer leaves it out of half of them",
        ),
        (goal.fade and "melody" in hidden, "fade takes the melody away already; leave it out of hide"),
        (goal.climb and goal.tempo, "climb says the tempi itself; leave out 'at'"),
    )
    return next((reason for clash, reason in clashes if clash), None)


def _within(what: str, given: float, low: float, high: float, unit: str) -> None:
    if not low <= given <= high:
        raise UsageError(f"{what} {given:g}; allowed is {low:g} to {high:g} {unit}".rstrip())
