"""Which of a tune's intros a number means: its own in rotation, then all others that suit it, best first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from introit.arrange.suggest import rank
from introit.library.model import Intro, Tune
from introit.theory.key import Mode, keys


class Rotation:
    """The intros of one tune, counted from 0 and round again; what a number means stays so all evening.

    Where one cannot be played in a mode, another that suits takes its place there. One that the tune does not
    name gives way to another at a tempo that it does not suit; one that it names is played as it is named.

    Args:
        tune: the tune, at the tempo that its file gives.
        intros: all there are, by their ids.
        line_up: who plays, by its word; None when unknown.
        before: of the same tune, whose order is kept as far as it can be.
    """

    def __init__(
        self,
        tune: Tune,
        intros: Mapping[str, Intro],
        *,
        line_up: str | None = None,
        before: Rotation | None = None,
    ) -> None:
        self._tune = tune
        self._intros = intros
        self._line_up = line_up
        self._own = tuple(name for name in tune.intros if name in intros)
        self._orders: dict[Mode, tuple[str, ...]] = {}
        self._before = before._orders if before is not None else {}

    def at(self, number: int, mode: Mode, tempo: float) -> str | None:
        """Id of the intro that a number means.

        Args:
            number: from 0, round and round.
            mode: of the key that was called.
            tempo: quarter notes a minute.

        Returns:
            None where no intro can be played in that mode.
        """
        names = self._order(mode)
        if not names:
            return None
        place = number % len(names)
        if self._holds(names, place, tempo):
            return names[place]
        return self._standing_in(names, mode, tempo)[place]

    def after(self, number: int, mode: Mode, tempo: float) -> int:
        """The number of the next of the tune's own intros, in rotation; the same where it has no other.

        One that cannot be played in the mode is passed over, and so is one that the tempo does not suit, as
        long as there is one that it suits.
        """
        names, own = self._order(mode), self._own
        if len(own) < 2 or not names:
            return number
        here = min(number % len(names), len(own) - 1)
        turns = [(here + step) % len(own) for step in range(1, len(own))]
        playable = [turn for turn in turns if names[turn : turn + 1] == own[turn : turn + 1]]
        suited = [turn for turn in playable if not self._strays(own[turn], tempo)]
        return next(iter([*suited, *playable]), number)

    def objection(self, number: int, mode: Mode, tempo: float, *, before: float) -> str | None:
        """Why the intro that a number means cannot be played at a tempo; None when it can.

        Only an intro that the tune names objects, and only to what is farther from its range than the tempo
        before: whoever strays may come nearer.
        """
        names = self._order(mode)
        place = number % max(1, len(names))
        if place >= len(self._own) or names[place] != self._own[place]:
            return None
        name = names[place]
        if self._strays(name, tempo) <= self._strays(name, before):
            return None
        low, high = self._intros[name].tempo
        return f"intro {name!r} suits {low:g} to {high:g} a minute, not {tempo:g}"

    def _order(self, mode: Mode) -> tuple[str, ...]:
        """Ids in a mode by their numbers, at the file's tempo: as many as the tune names, then the rest."""
        if mode not in self._orders:
            ranked = self._ranked(self._tune, mode)
            kept = [name for name in self._before.get(mode, ()) if name in ranked]
            others = iter([name for name in dict.fromkeys([*kept, *ranked]) if name not in self._own])
            own = [name if name in ranked else next(others, None) for name in self._own]
            self._orders[mode] = (*(name for name in own if name is not None), *others)
        return self._orders[mode]

    def _standing_in(self, names: Sequence[str], mode: Mode, tempo: float) -> list[str]:
        """The same order at another tempo; who stands in is not what comes before or after it."""
        best_first = self._ranked(replace(self._tune, tempo=tempo), mode)
        suited = [name for name in best_first if self._suits(name, tempo)]
        found: list[str] = []
        for place, name in enumerate(names):
            if self._holds(names, place, tempo) or not suited:
                found.append(name)
            else:
                beside = {*found[-1:], names[(place + 1) % len(names)]}
                found.append(next((other for other in suited if other not in beside), suited[0]))
        return found

    def _holds(self, names: Sequence[str], place: int, tempo: float) -> bool:
        """Whether a number means at this tempo what it means at the file's."""
        named = place < len(self._own) and names[place] == self._own[place]
        return named or self._suits(names[place], tempo)

    def _suits(self, name: str, tempo: float) -> bool:
        return self._strays(name, tempo) <= self._strays(name, self._tune.tempo)

    def _strays(self, name: str, tempo: float) -> float:
        """How far outside an intro's range a tempo lies; 0 within it."""
        low, high = self._intros[name].tempo
        return max(low - tempo, tempo - high, 0.0)

    def _ranked(self, tune: Tune, mode: Mode) -> list[str]:
        """Ids of all that can be played in a mode, best first; which key it is makes no difference."""
        key = tune.key if tune.key.mode is mode else keys(mode)[0]
        return [found.intro.id for found in rank(self._intros.values(), tune, key, line_up=self._line_up)]
