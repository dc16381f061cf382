"""JACK ports: every event on its frame. One JACK client a player, for all its ports in and out.

The process callback runs in a thread of JACK's own and belongs to it alone; it catches everything, since an
exception would end it for good with the client still registered. What it shares with the loop's thread are
deques and one dictionary whose operations are atomic. The `jack` package is imported when a client is opened:
it loads the system's own libjack.
"""

from __future__ import annotations

import random
import time
from collections import deque
from collections.abc import Sequence
from typing import Any, Final

from introit.errors import PortError
from introit.live.cue import Cue, Rank
from introit.live.events import Back, Gone, Heard, Lost, Sent
from introit.live.inbox import Inbox
from introit.live.ports.cue_queue import CueQueue, Entry
from introit.live.ports.finder import Listing
from introit.live.ports.frames import FrameScale, Unwrapper
from introit.live.ports.patchbay import Patchbay
from introit.live.setup import PortSetup
from introit.units import NS_PER_MS, NS_PER_SECOND

LOOKAHEAD_NS: Final = 30 * NS_PER_MS
"""Least lookahead; three periods where those are longer."""
MARGIN_NS: Final = NS_PER_MS // 2
"""How far, beyond one period, the clock runs ahead of the frame that is being played (see `JackClock`)."""
DRAIN_SECONDS: Final = 0.1
"""How long closing waits at most for the last cues to be written."""


def load() -> Any:
    """The `jack` package.

    Raises:
        PortError: if it, or the system's libjack, is not there.
    """
    try:
        import jack  # the one place that loads libjack
    except ImportError as error:
        raise PortError("JACK-Client is not installed.") from error
    except OSError as error:
        raise PortError("no JACK library on this system.") from error
    # Its default prints to descriptor 2, from any thread and at any time.
    jack.set_error_function(_ignore)
    jack.set_info_function(_ignore)
    return jack


def _ignore(_: str) -> None:
    pass


def open_client(name: str) -> Any:
    """A JACK client that is not active yet.

    Raises:
        PortError: if no server answers.
    """
    jack = load()
    try:
        return jack.Client(name, no_start_server=True)
    except jack.JackOpenError as error:
        raise PortError("no JACK server answers.") from error


def list_ports(name: str = "introit-look") -> Listing:
    """Every MIDI port that the JACK server knows, or why it could not be asked."""
    try:
        client = open_client(name)
    except PortError as error:
        return Listing("jack", reason=str(error).rstrip("."))
    try:
        inputs = tuple(port.name for port in client.get_ports(is_midi=True, is_input=True))
        outputs = tuple(port.name for port in client.get_ports(is_midi=True, is_output=True))
        detail = f"{client.samplerate} frames a second, {client.blocksize} a period"
        return Listing("jack", destinations=inputs, sources=outputs, detail=detail)
    finally:
        client.close()


class JackClient:
    """One client with all its ports, and the time they share.

    Add the ports, then `start`. Ports are matched to the setup's patterns by a `Patchbay` with a thread of
    its own.

    Attributes:
        scale: frames to the session clock's nanoseconds.
        alive: False from the moment the server has gone.
        faults: what went wrong inside the callback, the first few; empty in a sound program.
        used: something has been written; before that nothing can have been lost.
    """

    def __init__(self, name: str, inbox: Inbox) -> None:
        """Opens the client.

        Raises:
            PortError: if no server answers.
        """
        self._client = open_client(name)
        self._inbox = inbox
        self.alive = True
        self.faults: list[str] = []
        self.used = False
        # The offset is large and random, so that mixing clocks shows at once.
        self.scale = FrameScale(self._client.samplerate, random.randrange(10**8) * NS_PER_SECOND)
        first: int = self._client.frame_time
        self._loop_frames = Unwrapper(first)
        self._cycle_frames = Unwrapper(first)
        self._expected: int | None = None
        self._period: int = self._client.blocksize
        self._xruns = 0
        self._seen_xruns = 0
        self._ports: list[JackPort] = []
        self._closed: set[int] = set()
        self._released = False
        self.patchbay = Patchbay(self._client)
        self._client.set_process_callback(self._process)
        self._client.set_xrun_callback(self._on_xrun)
        self._client.set_blocksize_callback(self._on_period)
        self._client.set_shutdown_callback(self._on_shutdown)

    @property
    def name(self) -> str:
        """The client's name, as the server made it unique."""
        return str(self._client.name)

    @property
    def period_ns(self) -> int:
        """One period in nanoseconds."""
        return self._period * NS_PER_SECOND // self.scale.rate

    @property
    def frame_time(self) -> int:
        """The frame that is being played now, unwrapped. For the loop's thread."""
        return self._loop_frames(int(self._client.frame_time))

    def add(self, index: int, setup: PortSetup) -> JackPort:
        """Registers one port's ends; connections are made by `start`."""
        port = JackPort(index, setup, self)
        if setup.to is not None:
            port.out = self._client.midi_outports.register(setup.name)
            if not setup.virtual:
                self.patchbay.want(index, port.out.name, setup.to, sends=True)
        if setup.source is not None:
            port.into = self._client.midi_inports.register(f"{setup.name} in")
            if not setup.virtual:
                self.patchbay.want(index, port.into.name, setup.source, sends=False)
        self._ports.append(port)
        return port

    def start(self) -> None:
        """Begins to play and connects every port.

        Raises:
            PortError: if a pattern matches nothing, or more than one port.
        """
        self._client.activate()
        try:
            self.patchbay.start()
        except PortError:
            self.close()
            raise

    def release(self, index: int) -> None:
        """One port will not be used any more; the last one closes the client. Safe to call twice."""
        self._closed.add(index)
        if len(self._closed) == len(self._ports):
            self.close()

    def close(self) -> None:
        """Gives the client back to the server. Safe to call twice."""
        if not self._released:
            self._released = True
            self.patchbay.close()
            self.alive = False
            self._client.deactivate()
            self._client.close()

    # --- callbacks ---------------------------------------------------------------------------------

    def _process(self, frames: int) -> None:
        try:
            self._cycle(frames)
        except BaseException as error:  # an exception would end the callback for good
            if len(self.faults) < 10:
                self.faults.append(f"{type(error).__name__}: {error}")

    def _cycle(self, frames: int) -> None:
        for port in self._ports:  # first of all: what a buffer held would sound again
            if port.out is not None:
                port.out.clear_buffer()
        start = self._cycle_frames(self._client.last_frame_time)
        lost = self._gap(start, frames)
        heard = lost is not None
        for port in self._ports:
            if lost is not None:
                port.incoming.append(Lost(port.index, *lost))
            if port.out is not None:
                port.write(start, frames)
            if port.into is not None:
                heard |= port.read(start)
        if heard:
            self._inbox.wake()

    def _gap(self, start: int, frames: int) -> tuple[int, int] | None:
        """What may have been lost before this cycle, in the clock's nanoseconds."""
        expected, self._expected = self._expected, start + frames
        xruns, self._seen_xruns = self._seen_xruns, self._xruns
        if expected is None or (start == expected and xruns == self._xruns) or not self.used:
            return None
        # What was written in the cycle before may not have been passed on either.
        return self.scale.ns(min(expected, start) - frames), self.scale.ns(start)

    def _on_xrun(self, _delayed_microseconds: float) -> None:
        self._xruns += 1

    def _on_period(self, frames: int) -> None:
        self._period = frames

    def _on_shutdown(self, _status: object, reason: str) -> None:
        if self.alive:
            self.alive = False
            for port in self._ports:
                port.incoming.append(Gone(port.index, f"the JACK server has gone ({reason})"))
            self._inbox.wake()


class JackPort:
    """One rig port on a `JackClient`: keeps the promise of `live.port.Port`.

    Attributes:
        index: the port's index in the setup.
        out, into: JACK's own ports; None where the setup has none.
        incoming: what the callbacks leave for `heard`.
    """

    def __init__(self, index: int, setup: PortSetup, client: JackClient) -> None:
        self.index = index
        self.name = setup.name
        self.latency = client.period_ns
        self.lookahead = max(LOOKAHEAD_NS, 3 * client.period_ns) + client.period_ns
        self.out: Any = None
        self.into: Any = None
        self.incoming: deque[Heard | Lost | Gone | Back] = deque()
        self._client = client
        self._queue = CueQueue(client.scale.frame)
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

    def heard(self) -> list[Heard | Lost | Gone | Back]:
        """See `Port.heard`."""
        heard = []
        while self.incoming:
            heard.append(self.incoming.popleft())
        return heard

    def close(self) -> None:
        """Sends the offs that are still due, at once, then nothing more."""
        if self._closed:
            return
        self._closed = True
        if self._client.alive:
            self._queue.hurry(0)
            self._drain()
        self._client.release(self.index)

    def _drain(self) -> None:
        limit = time.monotonic() + DRAIN_SECONDS
        period = self._client.period_ns / NS_PER_SECOND
        while len(self._queue) and self._client.alive and time.monotonic() < limit:
            time.sleep(period / 2)
        time.sleep(period)  # whoever listens reads in the cycle in which we wrote

    # --- the callback's thread ---------------------------------------------------------------------

    def write(self, start: int, frames: int) -> None:
        """Places what is due in this cycle; what does not fit, in space or in time, stays for the next.

        A cycle that is not finished in time is lost as a whole, so at most half a message a frame is written.
        """
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
        """Stamps what came in during this cycle; whether there was anything."""
        heard = False
        scale, index, incoming = self._client.scale, self.index, self.incoming
        for offset, data in self.into.incoming_midi_events():
            incoming.append(Heard(index, scale.ns(start + offset), bytes(data)))
            heard = True
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
        self._last = 0
        self._monotonic = time.monotonic_ns()

    def now(self) -> int:
        """The present in nanoseconds; never goes back."""
        monotonic = time.monotonic_ns()
        client = self._client
        if client.alive:
            ahead = client.period_ns + MARGIN_NS
            present = client.scale.ns(client.frame_time) + ahead
        else:
            present = self._last + monotonic - self._monotonic
        self._monotonic = monotonic
        self._last = max(self._last, present)
        return self._last

    def wait(self, until: int | None, inbox: Inbox, *, exact: bool = True) -> None:
        """See `Clock.wait`; events are placed ahead, so an exact deadline needs no more than a sleep."""
        del exact
        if until is None:
            inbox.wait(None)
            return
        left = until - self.now()
        if left > 0:
            inbox.wait(left / NS_PER_SECOND)
