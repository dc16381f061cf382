"""Which port is to be opened in place of one that has gone, so that none that stayed is taken for it. Pure.

What can be known depends on what the system tells:

- Names of its own for each port (ALSA's numbers): who has gone and who stayed is known. One that returns
  under another number is known again while all its likes have stayed; when several were away, the numbers
  that they had decide, then the system's order.
- One name for several (macOS, Windows): that one of them has gone is known, not which. What is open stays
  open at what it was opened to, unless sending fails: then it was ours, and what appears beside those that
  stayed is ours again. When all were away, the system's order decides.

Whoever plugs several in again in another order has them changed over, and no name tells.
"""

from __future__ import annotations

from collections.abc import Sequence

from introit.live.ports.finder import matches
from introit.live.ports.names import placed, plain


class Whereabouts:
    """What one end remembers of the port it is or was opened to.

    Args:
        wanted: as the rig has it; empty for whatever there is.

    Attributes:
        last: the name that it was opened to last; empty before.
    """

    def __init__(self, wanted: str) -> None:
        self._wanted = wanted
        self.last = ""
        self._namesakes = 0  # it and those that have its very name
        self._others: frozenset[str] = frozenset()  # its likes under names of their own
        self._parted = False  # it has gone, and a namesake stayed

    def opened(self, name: str, names: Sequence[str]) -> None:
        """It was opened to a name, with these beside it."""
        self.last = name
        self._namesakes = len(namesakes(name, names))
        self._others = self._beside(names)
        self._parted = False

    def here(self, names: Sequence[str]) -> bool:
        """Whether what it was opened to is still there, as far as that can be known; to be asked often."""
        same = namesakes(self.last, names)
        if not same:
            self._namesakes = 0
            return False
        self._namesakes = max(self._namesakes, len(same))
        beside = self._beside(names)
        if len(beside) >= len(self._others):  # one that is away is expected under the number that it had
            self._others = beside
        return True

    def _beside(self, names: Sequence[str]) -> frozenset[str]:
        alike = (other for other in names if plain(other) == plain(self.last))
        return frozenset(alike) - set(namesakes(self.last, names))

    def again(self, names: Sequence[str], *, new: Sequence[str]) -> str | None:
        """Which of these names to open in place of the one that has gone; None to wait.

        Args:
            names: all there are.
            new: those of them that have appeared since it was asked last.
        """
        same = namesakes(self.last, names) if self.last else []
        if not same:
            self._namesakes = min(self._namesakes, 1)
            self._parted = False
        elif len(same) < self._namesakes:
            self._parted = True
            return None
        elif self._parted:
            return same[-1]
        if self.last in names:
            return self.last
        alike = [name for name in new if self.last and plain(name) == plain(self.last)]
        alike = [name for name in alike if name not in self._others]
        if len(alike) == 1 and self._others <= set(names) and not placed(self.last):
            return alike[0]
        found = matches(self._wanted, names) if self._wanted else list(new[:1])
        return found[0] if len(found) == 1 and found[0] in new and found[0] not in self._others else None


def namesakes(name: str, names: Sequence[str]) -> list[str]:
    """Those of the names that the system calls the same as `name`; itself among them where it is there."""
    own = _told(name)
    return [other for other in names if _told(other) == own]


def _told(name: str) -> str:
    """A name as the system told it, without its place."""
    place = placed(name)
    return name if place is None else place[0]
