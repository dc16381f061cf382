"""The running order: which tune of the set follows which. A tune keeps its index, wherever it stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence


class RunningOrder:
    """The tunes of a set by their index, in the order in which they are played. Pure.

    A position counts from 0 in this order. Whoever stands at a tune that has been taken out of it goes on to
    what came after that tune, or back to what came before.

    Args:
        tunes: how many there are at first, in the order of their indexes.
    """

    def __init__(self, tunes: int) -> None:
        self._order = tuple(range(max(1, tunes)))
        self._came_after: dict[int, int | None] = {}

    def __len__(self) -> int:
        return len(self._order)

    def at(self, position: int) -> int:
        """Index of the tune at a position; behind the last comes the first, before the first the last."""
        if position >= len(self._order):
            return self._order[0]
        return self._order[max(position, -1)]

    def after(self, tune: int) -> int:
        """Position of what follows a tune; behind the last it is their number."""
        return self._place(tune) + (tune in self._order)

    def before(self, tune: int) -> int:
        """Position of what stands before a tune; before the first it is -1."""
        return self._place(tune) - 1

    def others(self, tune: int, step: int) -> Iterator[int]:
        """All other tunes from one on, forwards or backwards (step 1 or -1), once round."""
        start = self.after(tune) if step > 0 else self.before(tune)
        for count in range(len(self._order)):
            found = self._order[(start + step * count) % len(self._order)]
            if found != tune:
                yield found

    def change(self, order: Sequence[int]) -> None:
        """The set is played in another order from now on; an empty one changes nothing."""
        if not order:
            return
        followers = (*self._order[1:], None)
        gone = {tune: then for tune, then in zip(self._order, followers, strict=True) if tune not in order}
        self._came_after |= gone
        self._order = tuple(order)

    def _place(self, tune: int) -> int:
        """A tune's position; that of what came after it where it has been taken out."""
        here: int | None = tune
        while here is not None and here not in self._order:
            here = self._came_after.get(here)
        return len(self._order) if here is None else self._order.index(here)
