"""The practice room: gives the next pass, takes what came of the last. No clock, no I/O."""

from __future__ import annotations

from collections.abc import Sequence

from introit.errors import UsageError
from introit.practice.goal import Goal
from introit.practice.passes import Coming, Outcome, Pass
from introit.practice.subject import Subject


class Room:
    """What is practised, pass after pass.

    Args:
        goal: what is practised, and how.
        subjects: the tunes, in their order; each with all its keys before the next one comes.
        seed: of everything that is thrown; the same one gives the same passes for the same outcomes.

    Raises:
        UsageError: when the goal does not suit what is practised; it says why.
    """

    def __init__(self, goal: Goal, subjects: Sequence[Subject], *, seed: int = 0) -> None:
        if not subjects:
            raise UsageError("there is nothing to practise: name an intro, a tune or a set")
        self._goal = goal
        self._subjects = tuple(subjects)
        self._seed = seed
        self._pass: Pass | None = None

    def first(self) -> Pass:
        """The first pass; from there on it is `next` that is asked."""
        self._pass = self._made(1)
        return self._pass

    def next(self, outcome: Outcome) -> Pass | None:
        """The pass after one; None when the practice is over.

        Args:
            outcome: what came of the last pass that was given.
        """
        if self._pass is None or outcome.over or self._pass.number == self._goal.passes:
            return None
        self._pass = self._made(self._pass.number + 1)
        return self._pass

    def clean(self, outcome: Outcome) -> bool | None:
        """Whether the last pass that was given was clean; None where nobody has said."""
        return True if outcome.marks else None

    def said(self) -> str:
        """What came of the pass before, for the screen; empty where there is nothing to say."""
        return ""

    def sentence(self, one: Pass) -> str:
        """A pass in a line for the screen."""
        return f"{one.key}, {one.tempo:g}"

    def _made(self, number: int) -> Pass:
        subject = self._subjects[0]
        return Pass(
            number=number,
            tune=0,
            intro=subject.intro.id,
            key=subject.tune.key,
            tempo=self._goal.tempo or subject.tune.tempo,
            rounds=self._goal.rounds,
            bars=self._goal.bars,
            rest=self._goal.rest,
            count=self._goal.count,
            seed=self._seed,
            coming=Coming("", subject.tune.key, 0),
        )
