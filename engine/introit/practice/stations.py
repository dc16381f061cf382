"""Where the practice goes: tune by tune and key by key, as far ahead as anyone asks. No press changes it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import count, cycle
from typing import NamedTuple

from introit.practice.goal import Goal
from introit.practice.hiding import turns
from introit.practice.key_order import rounds
from introit.practice.subject import Subject
from introit.theory.key import Key


class Station(NamedTuple):
    """One pass's place on the way.

    Attributes:
        tune: index of the subject.
        key: the key.
        place: of the key in its round, from 1.
        keys: how many keys the round has.
        turn: passes in this key so far, from 0; what goes in turn goes by it.
    """

    tune: int
    key: Key
    place: int
    keys: int
    turn: int


class Way:
    """A station for each pass, without end; looked up by number, so that many may share it.

    All that goes in turn (parts that are hidden, a melody that fades) has its turn in a key before the next
    key comes, and a tune has all its keys before the next tune. Where there is one tune in one key, the turns
    go on for ever.

    Raises:
        UsageError: when an intro can be played in none of the keys that are asked for.
    """

    def __init__(self, goal: Goal, subjects: Sequence[Subject], *, seed: int = 0) -> None:
        if goal.keys is None and len(subjects) == 1:
            own = subjects[0].tune.key
            self._further: Iterator[Station] = (Station(0, own, 1, 1, turn) for turn in count())
        else:
            stay = turns(goal) * (goal.keys.each if goal.keys else 1)
            self._further = _on_the_way(rounds_of(goal, subjects, seed=seed), stay)
        self._known: list[Station] = []

    def at(self, number: int) -> Station:
        """The station of a pass, by its number from 1; made where nobody has asked so far ahead."""
        while len(self._known) < number:
            self._known.append(next(self._further))
        return self._known[number - 1]


def _on_the_way(tunes: Sequence[Iterator[tuple[Key, ...]]], stay: int) -> Iterator[Station]:
    for tune in cycle(range(len(tunes))):
        keys = next(tunes[tune])
        for place, key in enumerate(keys, start=1):
            for turn in range(stay):
                yield Station(tune, key, place, len(keys), turn)


def rounds_of(goal: Goal, subjects: Sequence[Subject], *, seed: int = 0) -> list[Iterator[tuple[Key, ...]]]:
    """For each subject its rounds of keys, without end; its own key alone where keys are not practised.

    Raises:
        UsageError: when an intro can be played in none of the keys that are asked for.
    """
    if goal.keys is None:
        return [cycle([(subject.tune.key,)]) for subject in subjects]
    keys = goal.keys
    if keys.of_set:
        keys = replace(keys, of_set=False, own=tuple(dict.fromkeys(one.tune.key for one in subjects)))
    return [
        rounds(keys, subject.tune.key, subject.modes, seed=seed + number)
        for number, subject in enumerate(subjects)
    ]
