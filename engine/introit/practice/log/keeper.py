"""The log while somebody practises: never raises, never waits, and says in one line what goes wrong."""

from __future__ import annotations

import contextlib
import sqlite3
import threading
from collections.abc import Callable
from datetime import datetime, tzinfo
from pathlib import Path
from types import TracebackType

from introit.errors import IntroitError
from introit.practice.log.due import NoFsrsError, due
from introit.practice.log.opening import LogError
from introit.practice.log.played import Played
from introit.practice.log.store import Store, log_path

_FAREWELL_SECONDS = 5.0


class PracticeLog:
    """Takes every pass and writes it on a thread of its own, so that no disk delays the next one.

    Each pass is on the disk, synced, as soon as the disk allows; a power cut takes the pass in progress and
    no more. What cannot be written is kept and tried again with the next pass and at the end, each time in a
    file that is opened anew: it may have been damaged, or set aside by somebody else, meanwhile. `say` is
    only called in the caller's thread.

    Attributes:
        failure: why passes wait to be written, or why there is no log; empty while all is well.
        kept: passes that are on the disk since it was opened.
    """

    def __init__(self, store: Store | None, say: Callable[[str], None], zone: tzinfo | None = None) -> None:
        self.failure = ""
        self.kept = 0
        self._store = store
        self._say = say
        self._zone = zone
        self._told = ""
        self._news: list[str] = []
        self._waiting: list[Played] = []
        self._change = threading.Condition()
        self._ends = False
        self._tried = 0
        self._thread = threading.Thread(target=self._run, name="practice log", daemon=True)
        if store is not None:
            self._thread.start()

    @classmethod
    def open(
        cls, say: Callable[[str], None], *, path: Path | None = None, zone: tzinfo | None = None
    ) -> PracticeLog:
        """The user's log; where there can be none, one that forgets, and says so.

        Args:
            say: told one line where something is wrong.
            path: the file; None for `log_path()`, whose folder is made.
            zone: on whose clock days are counted; None for the system's.
        """
        try:
            return cls(Store.open(path or log_path(), say), say, zone)
        except (IntroitError, OSError) as error:
            log = cls(None, say, zone)
            log.failure = log._told = str(error)
            say(f"{error}: practice goes on without a log")
            return log

    def __enter__(self) -> PracticeLog:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def add(self, played: Played) -> None:
        """Takes a pass that has ended; returns at once."""
        if self._store is None or self._ends:
            return
        with self._change:
            self._waiting.append(played)
            self._change.notify_all()
        self._tell()

    def settle(self, seconds: float = _FAREWELL_SECONDS) -> bool:
        """Waits until every pass is on the disk, or could not be put there; whether all are. Then returns.

        Args:
            seconds: how long it waits at most.
        """
        with self._change:
            self._change.wait_for(lambda: not self._fresh, seconds)
            return self._store is not None and not self._waiting

    def close(self) -> None:
        """Writes what is left, tries once more what could not be written, and says what is lost."""
        if self._store is None or self._ends:
            return
        with self._change:
            self._ends = True
            self._change.notify_all()
        self._thread.join(_FAREWELL_SECONDS)
        with self._change:
            news, lost, why = self._news, len(self._waiting), self.failure or "the disk stalls"
            self._news = []
        for line in news:
            self._say(line)
        if lost:
            passes = "1 pass" if lost == 1 else f"{lost} passes"
            self._say(f"{passes} could not be kept: {why}")

    @property
    def _fresh(self) -> bool:
        """Whether there are passes that were not tried yet."""
        return len(self._waiting) > self._tried

    def _tell(self) -> None:
        with self._change:
            failure, news = self.failure, self._news
            self._news = []
        for line in news:
            self._say(line)
        if failure and failure != self._told:
            self._say(f"{failure}. Passes are kept, and tried again with the next one")
            self._told = failure

    def _run(self) -> None:
        """The thread: writes all that waits, in one transaction; what failed is tried with the next pass."""
        self._reckon()
        ends = False
        while not ends:
            with self._change:
                self._change.wait_for(lambda: self._ends or self._fresh)
                batch, ends = list(self._waiting), self._ends
            failure = self._written(batch)
            with self._change:
                self.failure = failure
                if not failure:
                    del self._waiting[: len(batch)]
                    self.kept += len(batch)
                self._tried = len(batch) if failure else 0
                self._change.notify_all()
        if self._store is not None:
            self._store.close()

    def _reckon(self) -> None:
        """Reckons what is due up to yesterday, so that nobody has to wait for it who looks."""
        with contextlib.suppress(NoFsrsError, sqlite3.Error):
            if self._store is not None:
                due(self._store.connection, datetime.now(self._zone).date())

    def _written(self, batch: list[Played]) -> str:
        """Why the passes could not be written; empty where they were."""
        if not batch or self._store is None:
            return ""
        try:
            try:
                self._store.add(batch, self._zone)
            except LogError:
                self._store.close()
                self._store = Store.open(self._store.path, self._news.append)
                self._store.add(batch, self._zone)
        except LogError as error:
            return str(error)
        except Exception as error:  # whatever it is, nobody's practice ends of it
            return f"the practice log cannot be written: an error of our own, {type(error).__name__}: {error}"
        return ""
