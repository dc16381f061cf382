"""Computer keys as foot-switch and for orders, in the terminal where the evening was started.

A thread of its own takes the keys and passes them on at once: the front may be busy arranging. For a press it
sends what the rig's foot-switch would send, so the session knows nothing of keys; for an order, the order. (A
page-turner types keys.)
"""

from __future__ import annotations

import contextlib
import heapq
import itertools
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence

from introit.cli.keys import KeyDecoder, Repeats
from introit.cli.scripted import Sends
from introit.cli.stand_in import StandIn
from introit.cli.terminal import KeySource
from introit.library.keys import KeyUse, key_uses
from introit.library.stage import RigKeys
from introit.live.events import FrontEvent, Ordered
from introit.live.setup import FootSwitch
from introit.performance import PARTS
from introit.units import NS_PER_SECOND

_JOIN_SECONDS = 1.0
_HINTED = ("press", "hold", "next", "help", "leave")
"""What the hint tells of; the help tells the rest."""
_LABELS = {"leave": "end"}
"""Words for what the rig calls otherwise."""


class KeyFoot:
    """What keys do: messages and orders due at their times, and wishes that the program meets. Pure.

    Args:
        switch: the rig's foot-switch.
        keys: which key does what.
        more: keys that the rig has no use for, to wishes that are told when they are struck.
    """

    def __init__(self, switch: FootSwitch, keys: RigKeys, more: Mapping[str, str] | None = None) -> None:
        self._more = more or {}
        self._uses = {name: use for use in key_uses(keys) for name in use.keys}
        self._decoder = KeyDecoder()
        self._repeats = Repeats()
        self._stand_in = StandIn(switch)
        self._waiting: list[tuple[int, int, FrontEvent]] = []
        self._order = itertools.count()

    def strike(self, data: bytes, now: int) -> list[str]:
        """Takes what a terminal sent; returns the uses struck that send nothing: help, leave."""
        return self._use(self._decoder.feed(data, now), now)

    def due(self, now: int) -> tuple[list[FrontEvent], list[str]]:
        """What is to be sent by now, and the uses that have become certain."""
        uses = self._use(self._decoder.settle(now), now)
        events = []
        while self._waiting and self._waiting[0][0] <= now:
            events.append(heapq.heappop(self._waiting)[2])
        return events, uses

    @property
    def next_due(self) -> int | None:
        """When `due` next has something."""
        dues = [self._waiting[0][0]] if self._waiting else []
        return min([*dues, *filter(None, [self._decoder.next_due])], default=None)

    def _use(self, names: list[str], now: int) -> list[str]:
        told = [
            self._more[name]
            for name in names
            if name in self._more and name not in self._uses and self._repeats.struck(name, now)
        ]
        struck = [
            self._uses[name] for name in names if self._repeats.struck(name, now) and name in self._uses
        ]
        wishes = told
        for use in struck:
            if use.does == "press":
                self._wait(self._stand_in.press(now))
            elif use.does == "hold":
                self._wait(self._stand_in.hold(now))
            elif use.does in ("help", "leave"):
                wishes.append(use.does)
            else:
                self._wait([(now, _ordered(use))])
        return wishes

    def _wait(self, timed: Sequence[tuple[int, FrontEvent]]) -> None:
        for ns, event in timed:
            heapq.heappush(self._waiting, (ns, next(self._order), event))


def _ordered(use: KeyUse) -> Ordered:
    """The order that a key gives."""
    if use.does == "mute":
        return Ordered(use.does, part=PARTS.index(use.which))
    return Ordered(use.does, value=int(use.which) - 1) if use.does == "tune" else Ordered(use.does)


class Keyboard:
    """The keys at work, from the first `tick` to `stop`.

    Args:
        source: the terminal.
        switch: the setup's foot-switch.
        keys: which key does what.
        language: gives the lines that `?` prints of what the foot and the keys do.
        say: writes a line; called from the main thread only.
        leave: what `q` does; called in the keys' thread.
        more: further keys, each with what it does in words and what is done, in the main thread.
    """

    def __init__(
        self,
        source: KeySource,
        switch: FootSwitch,
        keys: RigKeys,
        *,
        language: Callable[[], Sequence[str]],
        say: Callable[[str], None],
        leave: Callable[[], None] | None = None,
        more: Mapping[str, tuple[str, Callable[[], object]]] | None = None,
    ) -> None:
        self._source = source
        self._more = dict((more or {}).values())
        self._further = {name: words for name, (words, _) in (more or {}).items()}
        self._foot = KeyFoot(switch, keys, self._further)
        self._keys = keys
        self._language = language
        self._say = say
        self._leave = leave or interrupt
        self._wishes: deque[str] = deque()
        self._send: Callable[[FrontEvent], None] | None = None
        self._ending = False
        self._thread = threading.Thread(target=self._run, name="keys", daemon=True)

    @property
    def hint(self) -> str:
        """What one has to know, in a line."""
        uses = [use for use in key_uses(self._keys) if use.does in _HINTED]
        told = [f"{', '.join(use.keys)}: {_LABELS.get(use.does, use.does)}" for use in uses]
        return "keys: " + "; ".join([*told, *(f"{name}: {words}" for name, words in self._further.items())])

    def stop(self) -> None:
        """Gives the terminal back, whatever happened. Safe to call twice."""
        self._ending = True
        self._source.wake()
        if self._thread.is_alive():
            self._thread.join(_JOIN_SECONDS)
        self._source.close()

    def rest(self) -> None:
        """Gives the terminal back for as long as the process is stopped."""
        if self._send is not None:
            self._source.rest()

    # --- the main thread ----------------------------------------------------------------------------

    def tick(self, front: Sends) -> None:
        """Takes the terminal when first called; answers whoever asked for help."""
        if self._send is None:
            self._send = front.send
            self._source.open()
            self._thread.start()
            self._say(self.hint)
        while self._wishes:
            wish = self._wishes.popleft()
            if wish in self._more:
                self._more[wish]()
                continue
            for line in self._language():
                self._say(line)
            self._say(self.hint)

    # --- the keys' thread ---------------------------------------------------------------------------

    def _run(self) -> None:
        # A terminal that is gone ends the thread; the front hears of it by a signal of its own.
        with contextlib.suppress(OSError, ValueError):
            while not self._ending:
                due = self._foot.next_due
                wait = None if due is None else max(0, due - time.monotonic_ns()) / NS_PER_SECOND
                data = self._source.read(wait)
                if data is None:
                    return
                self._do(data)

    def _do(self, data: bytes) -> None:
        now = time.monotonic_ns()
        uses = self._foot.strike(data, now) if data else []
        events, later = self._foot.due(now)
        for event in events:
            if self._send is not None:
                self._send(event)
        for use in (*uses, *later):
            if use == "leave":
                self._leave()
            else:
                self._wishes.append(use)


def interrupt() -> None:
    """Does to this process what Ctrl-C does, from any thread."""
    if sys.platform == "win32":
        signal.raise_signal(signal.SIGINT)
    else:
        main = threading.main_thread().ident
        if main is not None:
            signal.pthread_kill(main, signal.SIGINT)
