"""One rig port on JACK, and the clock of a player that has some. What they call, `jack` has opened."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from introit.live.clock import suspended_ns
from introit.live.cue import Cue, Rank
from introit.live.events import PortEvent, Sent
from introit.live.inbox import Inbox
from introit.live.ports.cue_queue import CueQueue, Entry
from introit.live.ports.incoming import Incoming
from introit.live.setup import PortSetup
from introit.units import NS_PER_MS, NS_PER_SECOND

if TYPE_CHECKING:
    from introit.live.ports.jack import JackClient

LOOKAHEAD_NS: Final = 30 * NS_PER_MS
"""Least lookahead; three periods where those are longer."""
MARGIN_NS: Final = NS_PER_MS // 2
"""How far, beyond one period, the clock runs ahead of the frame that is being played (see `JackClock`)."""
DRAIN_SECONDS: Final = 0.1
"""How long closing waits at most for the last cues to be written."""


class JackPort:
    """One rig port on a `JackClient`: keeps the promise of `live.port.Port`.

    Attributes:
        index: the port's index in the setup.
        setup: what it was made from.
        out, into: JACK's own ports; None where the setup has none.
        incoming: what the callbacks leave for `heard`.
    """

    wakes = True

    def __init__(self, index: int, setup: PortSetup, client: JackClient) -> None:
        self.index = index
        self.setup = setup
        self.name = setup.name
        self.latency = client.period_ns
        self.lookahead = max(LOOKAHEAD_NS, 3 * client.period_ns) + client.period_ns
        self.out: Any = None
        self.into: Any = None
        self.incoming = Incoming(index, timing=setup.timing)
        self._client = client
        self._queue = CueQueue(self._frame_of)
        self._written: deque[tuple[int, int, bytes]] = deque()
        self._closed = False

    # --- the loop's thread -------------------------------------------------------------------------

    def hand(self, cues: Sequence[Cue]) -> None:
        """See `Port.hand`."""
        if self._client.alive and not self._closed and self.out is not None:
            self._queue.hand(cues)

    def withdraw(self, after: int) -> list[Cue]:
        """See `Port.withdraw`."""
        return self._queue.withdraw(after)

    def sent(self) -> list[Sent]:
        """See `Port.sent`; `actual` is the frame on which the event was placed."""
        sent = []
        while self._written:
            ideal, frame, data = self._written.popleft()
            sent.append(Sent(self.index, ideal, self._client.scale.ns(frame), data))
        return sent

    def heard(self) -> list[PortEvent]:
        """See `Port.heard`."""
        return self.incoming.take()

    def close(self) -> None:
        """Sends the offs that are still due, at once, then nothing more."""
        if self._closed:
            return
        self._closed = True
        if self._client.alive:
            self._queue.hurry(0)
            self._drain()
        self._client.release(self.index)

    def _frame_of(self, ns: int) -> int:
        return self._client.scale.frame(ns)

    def _drain(self) -> None:
        limit = time.monotonic() + DRAIN_SECONDS
        period = self._client.period_ns / NS_PER_SECOND
        while len(self._queue) and self._client.alive and time.monotonic() < limit:
            time.sleep(period / 2)
        time.sleep(period)  # whoever listens reads in the cycle in which we wrote

    def begin_anew(self) -> None:
        """Forgets what had not been written when the server went; the loop releases it when told `Back`."""
        self.out = self.into = None
        self._queue = CueQueue(self._frame_of)

    # --- the callback's thread ---------------------------------------------------------------------

    def write(self, start: int, frames: int) -> None:
        """Places what is due in this cycle; what does not fit, in space or in time, stays for the next.

        A cycle that is not finished in time is lost as a whole, so at most half a message a frame is written.
        """
        if self._queue.at_rest:
            return
        out = self.out
        due = self._queue.due(start, start + frames, most=max(1, frames // 2))
        for place, entry in enumerate(due):
            if place and out.max_event_size < len(entry.cue.data):
                self._queue.keep(due[place:])
                return
            if self._queue.claim(entry):
                self._place(entry, start)

    def _place(self, entry: Entry, start: int) -> None:
        cue = entry.cue
        offset = max(0, entry.frame - start)
        try:
            self.out.write_midi_event(offset, cue.data)
        except Exception:
            if cue.rank == Rank.OFF:  # an off is never lost, whatever the reason
                self._queue.hand([cue])
            raise
        self._client.used = True
        self._written.append((cue.ns, start + offset, cue.data))

    def read(self, start: int) -> bool:
        """Stamps what came in during this cycle; whether there was anything to keep."""
        heard = False
        scale, incoming = self._client.scale, self.incoming
        for offset, data in self.into.incoming_midi_events():
            heard |= incoming.hear(scale.ns(start + offset), data)
        return heard


class JackClock:
    """The session clock of a player with JACK ports: JACK's frames, in nanoseconds, a constant step ahead.

    JACK asks for a period's events before the period begins, so an event "now" would always come late, by up
    to a period and by chance. This clock therefore shows the frame being played plus one period and half a
    millisecond: whatever is begun now can still be placed on its exact frame. What is heard is stamped with
    its own frame, which is never later than this clock shows. When the server goes, time goes on from the
    monotonic clock.
    """

    def __init__(self, client: JackClient) -> None:
        self._client = client
        # What was shown last and when, in one store: another thread reads it while the server is away.
        self._shown = (0, time.monotonic_ns())

    @property
    def _lead(self) -> int:
        return self._client.period_ns + MARGIN_NS

    def now(self) -> int:
        """The present in nanoseconds; never goes back. For the loop's thread."""
        last, before = self._shown
        monotonic = time.monotonic_ns()
        client = self._client
        if client.alive:
            present = client.scale.ns(client.frame_time) + self._lead
        else:
            present = last + monotonic - before
        present = max(last, present)
        self._shown = (present, monotonic)
        return present

    def unled(self) -> int:
        """What a new server's present frame must mean, so that time goes on. While there is no server."""
        last, before = self._shown
        return last + time.monotonic_ns() - before - self._lead

    def asleep(self) -> int | None:
        """See `Clock.asleep`."""
        return suspended_ns()

    def wait(self, until: int | None, inbox: Inbox, *, exact: bool = True) -> bool:
        """See `Clock.wait`; events are placed ahead, so an exact deadline needs no more than a sleep."""
        del exact
        if until is None:
            return inbox.wait(None)
        left = until - self.now()
        return inbox.wait(left / NS_PER_SECOND) if left > 0 else inbox.pending
