"""The tune with its intro, time and again: what of it goes into the practice log."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta

from introit.errors import NotationError
from introit.library.model import Tune
from introit.live.events import Shown
from introit.live.states import State
from introit.practice.log import Played
from introit.theory.key import Key
from introit.units import NS_PER_SECOND

MODE = "tune"
"""How the log names it."""


class Through:
    """Told of everything shown, it keeps each time that the tune was played to its end.

    Args:
        tunes: of the set, by their index.
        keep: takes what was played.
        wall: the time of day, with its zone.
        clock: seconds, of no zone.
    """

    def __init__(
        self,
        tunes: Sequence[Tune],
        keep: Callable[[Played], None],
        *,
        wall: Callable[[], datetime] = lambda: datetime.now(UTC),
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._tunes = tunes
        self._keep = keep
        self._wall = wall
        self._clock = clock
        self._began: Shown | None = None
        self._latest: Shown | None = None
        self._heard = 0.0

    def show(self, shown: Shown, _front: object = None) -> None:
        """Takes in what is shown."""
        if shown.what == "beat" and self._began is not None and shown.key:
            self._latest = shown  # the key and the tempo may be others by now
        if shown.what != "state":
            return
        if shown.state in (State.PLAYING, State.VAMPING):
            if self._began is None:
                self._began, self._latest, self._heard = shown, shown, self._clock()
        elif shown.state == State.IN_THE_TUNE:
            self._end(shown)
        else:
            self._began = None

    def _end(self, shown: Shown) -> None:
        began, latest, self._began = self._began, self._latest, None
        if began is None or latest is None or not 0 <= began.tune < len(self._tunes):
            return
        try:
            key = Key.from_text(latest.key)
        except NotationError:
            return
        self._keep(
            Played(
                self._wall() - timedelta(seconds=self._clock() - self._heard),
                (shown.ns - began.ns) / NS_PER_SECOND,
                intro=began.intro,
                key=key,
                tempo=latest.tempo,
                tune=self._tunes[began.tune].id,
                mode=MODE,
            )
        )
