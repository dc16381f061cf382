"""Where the tunes of a set stand for the player, who counts them: each keeps its slot while it is there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from introit.library.model import Tune


class Slots(NamedTuple):
    """The tunes by the index that the player knows them by, and the order in which they are played.

    Attributes:
        tunes: by their index; None for one that was taken out.
        order: indexes of those that are there.
    """

    tunes: tuple[Tune | None, ...]
    order: tuple[int, ...]

    @classmethod
    def of(cls, tunes: Sequence[Tune]) -> Slots:
        """The tunes of a set, as they are first counted."""
        return cls(tuple(tunes), tuple(range(len(tunes))))

    def filled(self, tunes: Sequence[Tune]) -> Slots:
        """The same slots after the set was saved.

        A tune that is known by its id keeps its slot, wherever it now comes in the set. Another one in the
        place of one that was taken out, as when it is renamed, takes that slot; any other gets a new one.

        Args:
            tunes: of the set as it is now, at least one.
        """
        free = list(self.order)
        order: list[int | None] = []
        for tune in tunes:
            slot = next((slot for slot in free if self._name(slot) == tune.id), None)
            order.append(slot)
            if slot is not None:
                free.remove(slot)
        filled: list[Tune | None] = [None] * len(self.tunes)
        final: list[int] = []
        for tune, known in zip(tunes, order, strict=True):
            slot = self._in_place(final, free) if known is None else known
            if slot is None:
                slot = len(filled)
                filled.append(None)
            elif known is None:
                free.remove(slot)
            filled[slot] = tune
            final.append(slot)
        return Slots(tuple(filled), tuple(final))

    def _in_place(self, before: Sequence[int], free: Sequence[int]) -> int | None:
        """The slot of a tune that was taken out behind the last of those before, if one was."""
        place = self.order.index(before[-1]) + 1 if before and before[-1] in self.order else 0
        if before and place == 0:
            return None
        slot = next(iter(self.order[place : place + 1]), None)
        return slot if slot in free else None

    def _name(self, slot: int) -> str | None:
        tune = self.tunes[slot]
        return None if tune is None else tune.id
