"""Which files have been saved, found by looking at them now and then."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from introit.library.kinds import Stamp, stamp_of


class Watch:
    """Tells each saved file once, when it was the same at two looks: a half-written one is left alone.

    A file that is missing at two looks is gone, which is told once, too: an editor may just be replacing it.

    Args:
        stamps: asked at every look which files there are, by their paths, with their stamps; one that is new
            counts as saved, and one without a stamp is not there.
        stamp: of one file that is not among them any more.
    """

    def __init__(
        self,
        stamps: Callable[[], Mapping[str, Stamp | None]],
        stamp: Callable[[str], Stamp | None] = lambda path: stamp_of(Path(path)),
    ) -> None:
        self._asked = stamps
        self._stamp = stamp
        self._known = self._stamps()
        self._moving: dict[str, Stamp] = {}
        self._missing: set[str] = set()
        self._gone: set[str] = set()
        self._told: set[str] = set()

    @property
    def unsettled(self) -> bool:
        """Whether another look is needed to tell what the last one found."""
        return bool(self._moving or self._missing - self._gone)

    def look(self) -> list[Path]:
        """The files that were saved, in order of their paths."""
        stamps = self._stamps()
        changed = {path: stamp for path, stamp in stamps.items() if self._known.get(path) != stamp}
        settled = [path for path, stamp in changed.items() if self._moving.get(path) == stamp]
        self._known |= {path: changed[path] for path in settled}
        self._moving = {path: stamp for path, stamp in changed.items() if path not in settled}
        unseen = {path: self._stamp(path) for path in self._known if path not in stamps}
        for path in (path for path, stamp in unseen.items() if stamp is not None):
            del self._known[path]  # it is there, and another hides it; uncovered, it counts as saved
        missing = {path for path, stamp in unseen.items() if stamp is None}
        self._gone = missing & self._missing
        self._missing = missing
        self._told &= missing  # one that came back may go again
        return [Path(path) for path in sorted(settled)]

    def gone(self) -> list[Path]:
        """The files that are there no more, as of the last look, in order of their paths; each once."""
        new = self._gone - self._told
        self._told |= new
        return [Path(path) for path in sorted(new)]

    def _stamps(self) -> dict[str, Stamp]:
        return {path: stamp for path, stamp in self._asked().items() if stamp is not None}
